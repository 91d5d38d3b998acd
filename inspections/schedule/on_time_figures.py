"""The share of due dates that were met on time, in all and by month, site, area, procedure, model and class."""

from collections import Counter, defaultdict
from dataclasses import dataclass

from django.db.models import Count, F
from django.db.models.functions import TruncMonth

from fleet.models import Area, MachineModel, Site
from inspections.models import Procedure
from inspections.models.attempts import AttemptKind
from inspections.schedule.on_time import MISSED, Answer

LIFE_SUPPORT = "Life support"
DIMENSIONS = {
    "month": "Month",
    "site": "Site",
    "area": "Area",
    "procedure": "Procedure",
    "model": "Model",
    "class": "Class",
}
COLUMNS = {
    "month": F("closing_month"),
    "site": F("site_then"),
    "area": F("area_then"),
    "procedure": F("procedure"),
    "model": F("machine__model"),
}


@dataclass(frozen=True, slots=True)
class Figure:
    """Due dates by what became of them. `excused` counts the missed ones with an attempt, by kind of the last."""

    answers: Counter
    early: int
    excuses: Counter

    @property
    def on_time(self):
        return self.answers[Answer.ON_TIME]

    @property
    def counted(self):
        return self.on_time + self.missed

    @property
    def missed(self):
        return sum(self.answers[answer] for answer in MISSED)

    @property
    def percent(self):
        """Met on time of all that are counted, in per cent; None while there is nothing."""
        return 100 * self.on_time / self.counted if self.counted else None

    @property
    def excused(self):
        return sum(self.excuses.values())

    @property
    def by_answer(self):
        """Each answer with its label and number, in the order of the definition."""
        return [(answer.value, answer.label, self.answers[answer]) for answer in Answer]

    @property
    def by_excuse(self):
        return [(kind.value, kind.label, self.excuses[kind]) for kind in AttemptKind if self.excuses[kind]]


@dataclass(frozen=True, slots=True)
class Line:
    """The figure of one month, site, area, procedure, model or class. `key` is what a list is narrowed by."""

    key: object
    label: str
    figure: Figure


def figure_of(rows):
    """Return the figure of due dates, in one query."""
    return figure_of_counts(counted_answers(rows))


def counted_answers(rows, **keys):
    """Return the query for the numbers of due dates by answer, earliness and excuse, and by further keys."""
    return rows.order_by().values("answer", "is_early", "excuse", **keys).annotate(number=Count("*"))


def split_figure(rows, dimension):
    """Return the figure in all and its lines for each value of a dimension, in two queries.

    rows  due dates, judged, with site_then and area_then: inspections.kept.due_dates.in_period
    """
    if dimension == "class":
        in_all = figure_of(rows)
        return in_all, [Line("life-support", LIFE_SUPPORT, in_all)]
    grouped = defaultdict(list)
    by_month = rows.annotate(closing_month=TruncMonth("closes_on"))
    for row in counted_answers(by_month, key=COLUMNS[dimension]):
        grouped[row["key"]].append(row)
    labels = _labels(dimension, grouped)
    lines = [Line(key, labels[key], figure_of_counts(found)) for key, found in grouped.items()]
    lines.sort(key=lambda line: line.key if dimension == "month" else line.label.casefold())
    return figure_of_counts(row for found in grouped.values() for row in found), lines


def figure_of_counts(rows):
    """Return the figure of what `counted_answers` counts."""
    answers, excuses, early = Counter(), Counter(), 0
    for row in rows:
        answers[row["answer"]] += row["number"]
        if row["answer"] == Answer.ON_TIME and row["is_early"]:
            early += row["number"]
        if row["excuse"] and row["answer"] in MISSED:
            excuses[row["excuse"]] += row["number"]
    return Figure(answers, early, excuses)


def _labels(dimension, keys):
    if dimension == "month":
        return {key: f"{key:%b %Y}" for key in keys}
    model = {"site": Site, "area": Area, "procedure": Procedure, "model": MachineModel}[dimension]
    rows = model.objects.select_related("site") if dimension == "area" else model.objects
    return {row.pk: str(row) for row in rows.filter(pk__in=list(keys))}
