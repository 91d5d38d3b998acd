"""A stored forecast in words and figures of the place that is shown now."""

from dataclasses import dataclass
from datetime import timedelta

from django.utils import timezone

from fleet.catalogue import FEATURES, HAZARDS
from fleet.drawing import number
from fleet.drawing.numbers import uncertainty_decimals
from fleet.place_format import current, shown_unit
from fleet.web.at_site import day_words
from inspections.at_bench.step_content import features_of
from inspections.bench import from_si, interval_from_si
from inspections.drawing import Forecast
from inspections.models import TrendForecast
from inspections.trends import POLICY, predicted

from .signed_series import years_of_noon

MOST_DECIMALS = 6


def _with_half(value, half):
    """Return “22.55 ± 0.95”, the value to the last place of half its interval."""
    decimals = min(MOST_DECIMALS, uncertainty_decimals(half)) if half > 0 else None
    value = value if decimals is None else round(value, decimals) + 0.0
    return f"{number(value, decimals)} ± {number(half, decimals)}"


@dataclass(frozen=True, slots=True)
class ShownForecast:
    """One forecast as pages show it."""

    forecast: TrendForecast

    @property
    def unit(self):
        return shown_unit(self.forecast.latest.unit, current())

    @property
    def expected(self):
        """What is expected when next due, with half the 90 % interval: “22.55 ± 0.95 psi”."""
        value = from_si(self.forecast.value, self.unit)
        return f"{_with_half(value, self._half(self.forecast.upper, self.forecast.lower))} {self.unit}"

    def _half(self, upper, lower):
        return interval_from_si((upper - lower) / 2, self.unit)

    @property
    def drift(self):
        """The drift in a year, with half its 90 % interval: “-0.53 ± 0.21 psi a year”."""
        slope = interval_from_si(self.forecast.slope, self.unit)
        half = self._half(self.forecast.slope_upper, self.forecast.slope_lower)
        return f"{_with_half(slope, half)} {self.unit} a year"

    @property
    def chance(self):
        """Of being outside the limit when next due, such as “17 %”; empty without a limit."""
        if self.forecast.chance is None:
            return ""
        percent = 100 * self.forecast.chance
        return f"below {number(0.1)} %" if percent < 0.1 else f"{number(percent, 0 if percent >= 10 else 1)} %"

    @property
    def since(self):
        """When the chance passes the policy: “above 5 % from 17 Apr 2027”, or “already”; empty if not foreseen."""
        one, policy = self.forecast, f"{number(100 * POLICY)} %"
        if one.beyond_on is None:
            return ""
        is_past = one.beyond_on <= timezone.localdate(one.made_at)
        return f"above {policy} already" if is_past else f"above {policy} from {day_words(one.beyond_on)}"

    @property
    def shares(self):
        """“drift 60 %, machine 10 %, measurement 30 %”: what the width of the interval comes from."""
        one = self.forecast
        named = (("drift", one.drift_share), ("machine", one.machine_share), ("measurement", one.measured_share))
        return ", ".join(f"{name} {number(100 * share, 0)} %" for name, share in named)

    @property
    def advice(self):
        return self.forecast.get_advice_display() if self.forecast.advice != "nothing" else ""

    @property
    def features(self):
        """The safety features that the test proves, with the hazards that they stop or tell of."""
        codes = [code for code in features_of(self.forecast.latest.step.content) if code in FEATURES]
        return [(FEATURES[code].name, [HAZARDS[one].name for one in FEATURES[code].hazards]) for code in codes]

    def line(self, last_day):
        """Return the line of the picture, from the last result to the day on which the next one is due."""
        start, end = last_day, max(self.forecast.due_on, last_day + timedelta(days=1))
        ahead = [predicted(self.forecast.fitted, [years_of_noon(day)]) for day in (start, end)]
        values = [from_si(float(one.value[0]), self.unit) for one in ahead]
        halves = [self._half(float(one.interval()[1][0]), float(one.interval()[0][0])) for one in ahead]
        words = f"expected {day_words(end)}"
        return Forecast(start, values[0], end, values[1], words, halves[0], halves[1])
