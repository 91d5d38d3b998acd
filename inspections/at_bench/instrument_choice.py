"""Which test equipment can be chosen at a site on a day, and why the rest cannot."""

from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Value

from fleet.models import Calibration, Instrument
from fleet.models.querysets.prepared_queries import prepared
from fleet.web.at_site import day_words
from inspections.models import InstrumentOfDay


@dataclass(frozen=True, slots=True)
class InstrumentChoice:
    """An instrument as the bench offers it; `refusal` is empty for one that may be used.

    is_in_set  whether the person has it in the test set of the day
    """

    instrument: Instrument
    dimensions: frozenset[str]
    refusal: str = ""
    is_in_set: bool = False

    @property
    def pk(self):
        return self.instrument.pk

    @property
    def code(self):
        return self.instrument.code

    @property
    def label(self):
        return f"{self.code}, {self.refusal}" if self.refusal else str(self.instrument)


def instruments_at(site, day, *, person=None):
    """The instruments of a site that are not retired, by code, each with what it measures; two queries.

    person  whose test set of the day is marked
    """
    instruments = _marked(site.pk, day, person.pk) if person else _at_site(site.pk, day).annotate(is_mine=Value(False))
    return [_choice(instrument, day) for instrument in instruments]


@prepared
def _marked(site, day, person):
    mine = InstrumentOfDay.objects.filter(person=person, site=site, day=day, instrument=OuterRef("pk"))
    return _at_site(site, day).annotate(is_mine=Exists(mine))


def _at_site(site, day):
    usable = Instrument.objects.usable().filter(site=site).with_due_date(day)
    return usable.order_by("code").prefetch_related("scales")


def instruments_of_sites(sites, day):
    """The instruments of each site by its key, as `instruments_at` returns them; two queries for all sites."""
    found = {site.pk: [] for site in sites}
    instruments = Instrument.objects.usable().filter(site__in=found).with_due_date(day).annotate(is_mine=Value(False))
    for instrument in instruments.order_by("code").prefetch_related("scales"):
        found[instrument.site_id].append(_choice(instrument, day))
    return found


def _choice(instrument, day):
    dimensions = frozenset(scale.dimension for scale in instrument.scales.all())
    return InstrumentChoice(instrument, dimensions, _refusal(instrument, day), instrument.is_mine)


def _refusal(instrument, day):
    if instrument.due_on is None:
        return "no calibration recorded"
    if instrument.calibration_result not in Calibration.VALID_RESULTS:
        return f"out of specification on {day_words(instrument.calibrated_on)}"
    return f"calibration expired on {day_words(instrument.due_on)}" if instrument.due_on < day else ""
