"""An independent simulator of the bench: what the true values may have been, given what was read.

It shares nothing with the bench but the readings. A case is a sheet as read; `Draws` gives for each reading as many
true values as there are draws, from errors of the gauge (one for each scale and gas), of resolution, of the air
pressure and temperature, of stated volumes and of gas temperature that nobody read. Own physics turns them into the
results' true values.
"""

from dataclasses import dataclass, field

import numpy as np

from inspections.bench import Accuracy, Context, Dimension, Instrument, Reading, Scale, Sheet, Zero

SI = {"kPa": 1000.0, "psi": 6894.757293168361, "L/min": 1e-3 / 60, "mL/min": 1e-6 / 60, "mL": 1e-6, "s": 1.0, "%": 0.01,
      "mΩ": 1e-3, "MΩ": 1e6, "µA": 1e-6, "V": 1.0, "cmH2O": 98.0665, "1/min": 1 / 60,
      "°C": 1.0, "kg": 1.0, "min": 60.0, "N": 1.0, "Wh": 3600.0, "ppm": 1e-6}  # fmt: skip
KIND = {"kPa": "pressure", "psi": "pressure", "L/min": "flow", "mL/min": "flow", "mL": "volume", "s": "time",
        "%": "fraction", "mΩ": "resistance", "MΩ": "resistance", "µA": "current", "V": "voltage", "cmH2O": "pressure",
        "1/min": "rate", "°C": "temperature", "kg": "mass", "min": "time", "N": "force", "Wh": "energy",
        "ppm": "fraction"}  # fmt: skip
ZERO = {"°C": 273.15}
GAS_CONSTANT = 8.314462618


@dataclass
class Meter:
    """One scale in the unit of its readings; error +/-(of_reading x value + absolute), k = 2, or limits."""

    code: str
    unit: str
    top: float
    step: float
    of_reading: float = 0.0
    absolute: float = 0.0
    is_limits: bool = False

    def std(self, value):
        return (self.of_reading * abs(value) + self.absolute) / (np.sqrt(3) if self.is_limits else 2)

    def instrument(self):
        factor = SI[self.unit]
        accuracy = Accuracy(self.of_reading, 0.0, self.absolute * factor, 0.0 if self.is_limits else 2.0)
        bottom = -min(self.top, 100) if self.unit == "kPa" else 0.0
        ends = (end * factor + ZERO.get(self.unit, 0.0) for end in (bottom, self.top))
        scale = Scale(Dimension(KIND[self.unit]), *ends, self.step * factor, accuracy)
        return Instrument(self.code, self.code, (scale,))


@dataclass
class Draws:
    """True values behind readings, `count` of each, in SI."""

    random: np.random.Generator
    count: int
    ambient: float = 101_325.0
    ambient_std: float = 1000.0
    kelvin: float = 294.15
    kelvin_std: float = 1.0
    meters: dict = field(default_factory=dict)
    _shared: dict = field(default_factory=dict)

    def __post_init__(self):
        self.true_ambient = self.ambient + self.ambient_std * self.normal()
        self.true_kelvin = self.kelvin + self.kelvin_std * self.normal()

    def normal(self):
        return self.random.standard_normal(self.count)

    def flat(self):
        return self.random.uniform(-1, 1, self.count)

    def reading(self, value, meter, *, gas="", zero=None):
        """Return a reading rounded to the meter's step, and what was true when it showed that."""
        shown = round(value / meter.step) * meter.step
        self.meters[meter.code] = meter
        if (meter.code, gas) not in self._shared:
            self._shared[meter.code, gas] = np.sqrt(3) * self.flat() if meter.is_limits else self.normal()
        true = (
            shown
            + meter.std(shown if zero is None else shown - self.ambient / SI[meter.unit])
            * self._shared[meter.code, gas]
        )
        true = (true + meter.step / 2 * self.flat()) * SI[meter.unit]
        if zero is Zero.ABSOLUTE:
            true = true - self.true_ambient
        return Reading(shown, meter.unit, zero, meter.code), true

    def context(self, **more):
        instruments = {code: meter.instrument() for code, meter in self.meters.items()}
        return Context(
            ambient_pa_abs=self.ambient, ambient_std_pa=self.ambient_std, temperature_k=self.kelvin,
            temperature_std_k=self.kelvin_std, instruments=instruments, built_year=2015, **more,
        )  # fmt: skip


@dataclass
class Case:
    """A sheet as read, and draws of the true values of its results."""

    code: str
    sheet: Sheet
    context: Context
    truth: dict


def needle(pressure, ambient):
    """Flow of an ideal gas of cp/cv 1.3 through an orifice, Saint-Venant and Wantzel; 0 without pressure."""
    k = 1.3
    absolute = np.maximum(pressure, 0) + ambient
    ratio = np.maximum(ambient / absolute, (2 / (k + 1)) ** (k / (k - 1)))
    return absolute * np.sqrt(np.maximum(ratio ** (2 / k) - ratio ** ((k + 1) / k), 0))


def line(x, y):
    """Intercept and slope of the least-squares line through rows of x and y, shape (points, draws)."""
    mid = x.mean(axis=0)
    slope = ((x - mid) * y).sum(axis=0) / ((x - mid) ** 2).sum(axis=0)
    return y.mean(axis=0) - slope * mid, slope


def decay_rate(kind, times, pressures):
    """Fall rate constant of a decay by weighted least squares: ln p (laminar) or sqrt p (orifice) over time."""
    height = np.log(pressures) if kind == "laminar" else np.sqrt(pressures)
    weight = pressures**2 if kind == "laminar" else 4 * pressures
    total = weight.sum(axis=0)
    mid, level = (weight * times).sum(axis=0) / total, (weight * height).sum(axis=0) / total
    return -(weight * (times - mid) * (height - level)).sum(axis=0) / (weight * (times - mid) ** 2).sum(axis=0)


def fall(kind, rate, pressure):
    return rate * pressure if kind == "laminar" else 2 * rate * np.sqrt(pressure)


def without_drift(times, pressures, ambient, change, kelvin):
    """Gauge pressures as they would be had the gas kept its temperature, which changed evenly by `change`."""
    share = (times - times[0]) / (times[-1] - times[0])
    return (pressures + ambient) * kelvin / (kelvin + change * share) - ambient
