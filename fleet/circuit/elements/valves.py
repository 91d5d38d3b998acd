"""Check valves, relief valves, the main switch."""

from collections.abc import Mapping
from typing import NamedTuple

from fleet.circuit.elements.base import Element, Failure, Plumbing
from fleet.circuit.elements.defaults import (
    COMMON,
    LITRE_PER_MINUTE,
    OCCASIONAL,
    PSI,
    RARE,
    practice,
    remembered,
    supply_way,
    through,
)
from fleet.circuit.laws import FLOOR, FLOOR_M3_S_PA, OneWay, resistance

BACK_LEAK_PA = 100e3  # pressure of a rated back leak. Source: common practice, no source
LEAKING_M3_S_PA = 2 * LITRE_PER_MINUTE / 345e3  # a dirty seat: 2 L/min at pipeline pressure


class Place(NamedTuple):
    """Properties of a check valve by its place: features, opening pressure, pressure drop at 60 L/min, back leak."""

    protects: tuple[str, ...]
    opening_pressure: float  # Pa
    drop_60: float  # Pa
    highest_back_leak: float  # m3/s, at 100 kPa


PLACES: Mapping[str, Place] = {  # Source: common practice, no source; a yoke's is coarse
    "inside": Place((), 500.0, 2e3, 0.0),
    "yoke": Place(("yoke-check-valve",), 500.0, 5e3, 0.5e-3 * LITRE_PER_MINUTE),
    "pipeline": Place(("pipeline-check-valve",), 2e3, 5e3, 0.0),
    "outlet": Place(("outlet-check-valve",), 100.0, 1e3, 0.0),
}


class CheckValve(Element):
    """Passes gas one way. Its place determines its feature and the defaults of missing values."""

    kind = "check-valve"
    values = {
        "opening_pressure": practice(500.0, "pressure"),
        "highest_back_leak": practice(0.0, "flow"),
        "drop_60": practice(2e3, "pressure"),
    }
    options = {"place": tuple(PLACES)}
    failures = {
        "stuck open": Failure(OCCASIONAL, "it passes gas both ways"),
        "stuck shut": Failure(RARE, "it passes nothing"),
        "leaking": Failure(COMMON, "dirt on its seat lets gas flow back"),
    }

    def __init__(self, component, condition):
        super().__init__(component, condition)
        self.place = PLACES[self.option("place")]
        self.protects = self.place.protects

    def plumbing(self) -> Plumbing:
        return Plumbing((through(self, self._law()),))

    def value(self, key: str) -> float:
        return self.component.values.get(key, getattr(self.place, key))

    def _law(self):
        way = resistance(self.value("drop_60"), 60 * LITRE_PER_MINUTE)
        if self.has_failed("stuck shut"):
            return FLOOR
        if self.has_failed("stuck open") or self.condition.is_removed:
            return way
        leak = FLOOR_M3_S_PA + self.value("highest_back_leak") / BACK_LEAK_PA
        if self.has_failed("leaking"):
            leak += LEAKING_M3_S_PA
        opens_at = self.value("opening_pressure")
        return OneWay(way, opens_at, leak, corner_pa=max(opens_at / 10, 2.0))


class PipeReliefValve(Element):
    """Vents a supply line whose pressure is too high."""

    kind = "pipe-relief-valve"
    values = {
        "relief_pressure": remembered(75 * PSI, "pressure", "NFPA 99:2012: 1.5 x 50 psi"),
        "rise_100": practice(30e3, "pressure"),  # above its setting at 100 L/min
    }
    failures = {
        "stuck open": Failure(OCCASIONAL, "it vents all the time"),
        "stuck shut": Failure(OCCASIONAL, "it does not open"),
    }
    unjoined = frozenset({"vent"})

    def plumbing(self) -> Plumbing:
        way = resistance(self.value("rise_100"), 100 * LITRE_PER_MINUTE)
        if self.has_failed("stuck shut") or self.condition.is_removed:
            law = FLOOR
        elif self.has_failed("stuck open"):
            law = resistance(345e3, 30 * LITRE_PER_MINUTE)
        else:
            law = OneWay(way, self.value("relief_pressure"), corner_pa=1e3)
        return Plumbing((through(self, law, "in", "vent", "vent"),))


class ReliefValve(Element):
    """Limits the pressure at the outlet when the outlet is blocked."""

    kind = "relief-valve"
    values = {
        "relief_pressure": remembered(35e3, "pressure", "30 to 40 kPa on many machines"),
        "rise_60": practice(10e3, "pressure"),  # above its setting at 60 L/min
    }
    failures = {
        "stuck open": Failure(OCCASIONAL, "it leaks fresh gas to the room"),
        "stuck shut": Failure(OCCASIONAL, "it does not open"),
    }
    protects = ("outlet-relief",)
    unjoined = frozenset({"vent"})

    def plumbing(self) -> Plumbing:
        way = resistance(self.value("rise_60"), 60 * LITRE_PER_MINUTE)
        if self.has_failed("stuck open"):
            law = resistance(1e3, 5 * LITRE_PER_MINUTE)
        elif self.has_failed("stuck shut") or self.condition.is_removed:
            law = FLOOR
        else:
            law = OneWay(way, self.value("relief_pressure"), corner_pa=200.0)
        return Plumbing((through(self, law, "in", "vent", "vent"),))


class MainSwitch(Element):
    """Opens a gas. Its other function, to start the monitors, is in the feature and does not affect gas."""

    kind = "main-switch"
    values = {"drop_60": practice(5e3, "pressure")}
    settings = {"on": 1}
    failures = {
        "stuck shut": Failure(RARE, "it does not open"),
        "leaking": Failure(OCCASIONAL, "it leaks to the room"),
    }

    def plumbing(self) -> Plumbing:
        is_open = float(self.setting("on")) and not self.has_failed("stuck shut")
        law = resistance(self.value("drop_60"), 60 * LITRE_PER_MINUTE) if is_open else FLOOR
        return supply_way(self, through(self, law))
