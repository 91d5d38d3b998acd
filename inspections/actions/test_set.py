"""Choose the instruments that a person uses at a site on a day. They decide nothing: each reading names its own."""

from django.db import transaction

from inspections.at_bench.test_set import REMEMBERED
from inspections.errors import InstrumentRefused
from inspections.models import InstrumentOfDay


@transaction.atomic
def choose_test_set(choices, *, site, day, by):
    """Make these InstrumentChoices the person's test set of the day.

    Raise InstrumentRefused for one that is out of calibration.
    """
    for choice in choices:
        _refuse_unusable(choice)
    wanted = {choice.pk for choice in choices}
    own = InstrumentOfDay.objects.filter(person=by, site=site)
    own.filter(day__lt=day - REMEMBERED).delete()
    own.filter(day=day).exclude(instrument__in=wanted).delete()
    _add(wanted, site=site, day=day, by=by)


@transaction.atomic
def add_to_test_set(choice, *, site, day, by):
    """Add one instrument to the person's test set of the day. Raise InstrumentRefused if it is out of calibration."""
    _refuse_unusable(choice)
    _add({choice.pk}, site=site, day=day, by=by)


def _add(instruments, **place):
    rows = [
        InstrumentOfDay(person=place["by"], site=place["site"], day=place["day"], instrument_id=pk)
        for pk in sorted(instruments)
    ]
    InstrumentOfDay.objects.bulk_create(rows, ignore_conflicts=True)


def _refuse_unusable(choice):
    if choice.refusal:
        raise InstrumentRefused(
            f"Instrument {choice.code} cannot be used for a signed reading: {choice.refusal}. Take another."
        )
