"""Narrowing the due dates of the on-time figure."""

import django_filters

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
    """Which due dates: the days in which their last days lie, and whose they are."""

    since = DayFilter(label="Last day from", method="of_the_list")
    until = DayFilter(label="Last day to", method="of_the_list")
    site = site_filter("machine__area__site", "Every site")
    area = area_filter("machine__area", "Every area")
    procedure = django_filters.ModelChoiceFilter(
        label="Procedure", queryset=Procedure.objects.all(), empty_label="Every procedure"
    )
    model = django_filters.ModelChoiceFilter(
        "machine__model", label="Model", queryset=MachineModel.objects.all(), empty_label="Every model"
    )


class DueDateFilter(PeriodFilter):
    """The view narrows by answer and excuse, as only the due dates of the period bear them."""

    q = text_filter("Machine, serial or location")
    answer = django_filters.ChoiceFilter(
        label="Answer", choices=ANSWERS, empty_label="Every answer", method="of_the_list"
    )
    excuse = django_filters.ChoiceFilter(
        label="Last attempt", choices=AttemptKind.choices, empty_label="Any or none", method="of_the_list"
    )


def narrow_answers(rows, asked):
    """Keep the due dates with the answer and the attempt that the address asks for."""
    answer, excuse = asked["answer"], asked["excuse"]
    if excuse:
        rows = rows.filter(excuse=excuse)
    if not answer:
        return rows
    if answer == EARLY:
        return rows.filter(answer=Answer.ON_TIME, is_early=True)
    if answer == EXCUSED:
        return rows.filter(answer__in=MISSED, excuse__isnull=False)
    return rows.filter(answer__in={COUNTED_ONES: COUNTED, MISSED_ONES: MISSED}.get(answer, (answer,)))
