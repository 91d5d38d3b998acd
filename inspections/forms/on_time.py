"""Narrowing the due dates of the on-time figure."""

import django_filters
from django.db.models import Case, Q, When

from fleet.forms.filters import DayFilter, ListFilter, area_filter, site_filter, text_filter
from fleet.models import MachineModel
from inspections.models import Procedure
from inspections.models.attempts import AttemptKind
from inspections.schedule.on_time import COUNTED, MISSED, Answer

COUNTED_ONES, MISSED_ONES, EARLY, EXCUSED = "counted", "missed", "early", "excused"
ANSWERS = [
    (COUNTED_ONES, "All that count"),
    (MISSED_ONES, "All that were missed"),
    *Answer.choices,
    (EARLY, "On time, before the window"),
    (EXCUSED, "Missed, with an attempt"),
]


class PeriodFilter(ListFilter):
    """Which due dates: the days in which their last days lie, and whose they are.

    Site and area are those where the machine was on the last day (`with_area_where_due`).
    """

    since = DayFilter(label="Last day from", method="of_the_list")
    until = DayFilter(label="Last day to", method="of_the_list")
    site = site_filter("site_then", "Every site", method="keyed")
    area = area_filter("area_then", "Every area", method="keyed")
    procedure = django_filters.ModelChoiceFilter(
        label="Procedure", queryset=Procedure.objects.all(), empty_label="Every procedure"
    )
    model = django_filters.ModelChoiceFilter(
        "machine__model", label="Model", queryset=MachineModel.objects.all(), empty_label="Every model"
    )

    def keyed(self, rows, name, value):
        return rows.filter(**{name: value.pk})


class DueDateFilter(PeriodFilter):
    """The view narrows by answer and excuse, as only the due dates of the period bear them."""

    q = text_filter("Machine, serial or location")
    answer = django_filters.ChoiceFilter(
        label="Answer", choices=ANSWERS, empty_label="Every answer", method="of_the_list"
    )
    excuse = django_filters.ChoiceFilter(
        label="Last attempt", choices=AttemptKind.choices, empty_label="Any or none", method="of_the_list"
    )


def narrow_due(rows, asked):
    """Keep what was due at the site and in the area, and on the model, that the address asks for."""
    paths = {"site": "site_then", "area": "area_then", "model": "machine__model"}
    return rows.filter(**{path: asked[name].pk for name, path in paths.items() if asked.get(name)})


def narrow_answers(rows, asked):
    """Keep the due dates with the answer and the attempt that the address asks for.

    They are those of a period, which an index has in order: the condition is written so that no other index serves it.
    """
    if not (asked["answer"] or asked["excuse"]):
        return rows
    return rows.alias(is_wanted=Case(When(_wanted(asked["answer"], asked["excuse"]), then=1))).filter(is_wanted=1)


def _wanted(answer, excuse):
    wanted = Q(excuse=excuse) if excuse else Q()
    if not answer:
        return wanted
    if answer == EARLY:
        return wanted & Q(answer=Answer.ON_TIME, is_early=True)
    if answer == EXCUSED:
        return wanted & Q(answer__in=MISSED, excuse__gt="")  # empty in kept ones, NULL in others
    return wanted & Q(answer__in={COUNTED_ONES: COUNTED, MISSED_ONES: MISSED}.get(answer, (answer,)))
