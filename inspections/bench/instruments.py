"""Test equipment: scales with range, resolution and accuracy."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import hypot, sqrt

from fleet.catalogue.plausibility import Implausible, scale_problems

from .corrections import Correction
from .quantities import Dimension
from .uncertainty import NORMAL, RECTANGULAR


@dataclass(frozen=True, slots=True)
class Accuracy:
    """An accuracy statement: +/-(of_reading x reading + of_span x span + absolute_si).

    of_reading, of_span  fractions (0.01 is 1 %)
    absolute_si          in the SI unit of the scale
    coverage_factor      k of the statement; 0 means limits of a rectangular distribution
    """

    of_reading: float = 0.0
    of_span: float = 0.0
    absolute_si: float = 0.0
    coverage_factor: float = 2.0

    def __post_init__(self):
        for name in ("of_reading", "of_span", "absolute_si", "coverage_factor"):
            if not getattr(self, name) >= 0:
                raise ValueError(f"Accuracy: {name} must be zero or more, got {getattr(self, name)!r}.")

    @property
    def is_stated(self) -> bool:
        """Whether it says anything: no instrument is exact."""
        return self.of_reading > 0 or self.of_span > 0 or self.absolute_si > 0

    @property
    def excess(self) -> float:
        """Return the excess kurtosis of the instrument's error: rectangular for limits, else normal."""
        return NORMAL if self.coverage_factor else RECTANGULAR

    def std_uncertainty(self, value_si: float, span_si: float) -> float:
        """Return the standard uncertainty at a reading. Source: JCGM 100:2008, 4.3.3 and 4.3.7."""
        half_width = self.of_reading * abs(value_si) + self.of_span * span_si + self.absolute_si
        return half_width / (self.coverage_factor or sqrt(3))


@dataclass(frozen=True, slots=True)
class Scale:
    """One range of an instrument, in SI (pressures gauge).

    resolution_si  the smallest step read
    correction     of its readings by a certificate, None where they are taken as read
    """

    dimension: Dimension
    low_si: float
    high_si: float
    resolution_si: float
    accuracy: Accuracy
    correction: Correction | None = None

    def __post_init__(self):
        if not self.high_si > self.low_si:
            raise ValueError("Scale: the upper end must be above the lower end.")
        if not self.resolution_si >= 0:
            raise ValueError(f"Scale: the resolution must be zero or more, got {self.resolution_si!r}.")
        for name, problem in self._problems().items():
            raise ValueError(f"Scale: {name.replace('_', ' ')} {problem.of('in SI')}")

    def _problems(self) -> Mapping[str, Implausible]:
        accuracy = self.accuracy
        numbers = {"low": self.low_si, "high": self.high_si, "resolution": self.resolution_si or None}
        parts = {"of_reading_percent": accuracy.of_reading * 100, "of_span_percent": accuracy.of_span * 100,
                 "absolute": accuracy.absolute_si, "coverage_factor": accuracy.coverage_factor}  # fmt: skip
        return scale_problems({"dimension": self.dimension, **numbers, **parts})

    @property
    def span_si(self) -> float:
        return self.high_si - self.low_si

    def holds(self, value_si: float) -> bool:
        """Return whether the value lies in the range, ends included (1e-9 of the span is rounding)."""
        slack = 1e-9 * self.span_si
        return self.low_si - slack <= value_si <= self.high_si + slack

    def resolution_std(self) -> float:
        """Return the standard uncertainty of reading a step of this size. Source: JCGM 100:2008, F.2.2.1."""
        return self.resolution_si / sqrt(12)

    def accuracy_std(self, value_si: float) -> float:
        """Return the standard uncertainty of the instrument's own error at a reading."""
        return self.accuracy.std_uncertainty(value_si, self.span_si)

    def std_uncertainty(self, value_si: float) -> float:
        """Return accuracy and resolution together at a reading, in SI."""
        return hypot(self.accuracy_std(value_si), self.resolution_std())


@dataclass(frozen=True, slots=True)
class Instrument:
    """One piece of test equipment, known by its code."""

    code: str
    name: str
    scales: Sequence[Scale]

    def scales_for(self, dimension: Dimension) -> tuple[Scale, ...]:
        """Return its scales for a dimension, smallest span first."""
        found = (scale for scale in self.scales if scale.dimension == dimension)
        return tuple(sorted(found, key=lambda scale: scale.span_si))
