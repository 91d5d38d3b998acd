"""Which test equipment can be chosen at a site on a day, and why the rest cannot."""

from dataclasses import dataclass

from django.db.models import Prefetch

from fleet.models import Calibration, Instrument, InstrumentScale
from fleet.web.at_site import day_words


@dataclass(frozen=True, slots=True)
class InstrumentChoice:
    """An instrument as the bench offers it; `refusal` is empty for one that may be used."""

    instrument: Instrument
    dimensions: frozenset[str]
    refusal: str = ""

    @property
    def pk(self):
        return self.instrument.pk

    @property
    def code(self):
        return self.instrument.code

    @property
    def label(self):
        return f"{self.code}, {self.refusal}" if self.refusal else str(self.instrument)


def instruments_at(site, day):
    """The instruments of a site that are not retired, by code, each with what it measures; two queries."""
    instruments = Instrument.objects.usable().filter(site=site).with_due_date(day).order_by("code")
    scales = Prefetch("scales", InstrumentScale.objects.only("instrument_id", "dimension"))
    return [_choice(instrument, day) for instrument in instruments.prefetch_related(scales)]


def _choice(instrument, day):
    dimensions = frozenset(scale.dimension for scale in instrument.scales.all())
    return InstrumentChoice(instrument, dimensions, _refusal(instrument, day))


def _refusal(instrument, day):
    if instrument.due_on is None:
        return "no calibration recorded"
    if instrument.calibration_result not in Calibration.VALID_RESULTS:
        return f"out of specification on {day_words(instrument.calibrated_on)}"
    return f"calibration expired on {day_words(instrument.due_on)}" if instrument.due_on < day else ""
