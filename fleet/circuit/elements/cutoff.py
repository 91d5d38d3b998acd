"""Components controlled by oxygen pressure: the supply-failure valve and the oxygen alarm."""

from fleet.circuit.elements.base import Branch, Element, Failure, Plumbing, Told, Value
from fleet.circuit.elements.defaults import (
    COMMON,
    LITRE_PER_MINUTE,
    OCCASIONAL,
    PSI,
    RARE,
    SUPPLY_LEAK_M2,
    own_mix,
    practice,
    remembered,
    supply_way,
    to_room,
)
from fleet.circuit.laws import FLOOR, FLOOR_M3_S_PA, Following, Nozzle, Opening, Regulating, Steered, nozzle_area

SNAP = 0.05  # a shut-off valve opens within this fraction of its cut pressure. Source: common practice, no source
DRIFT = 0.5  # relative error of a drifted valve. Source: common practice, no source
PASSING_M3_S_PA = 1 * LITRE_PER_MINUTE / 345e3  # past a worn seat: 1 L/min at pipeline pressure


class SupplyFailureValve(Element):
    """Cuts (shut-off kind) or throttles (proportional kind) another gas when oxygen pressure falls.

    shut-off      open above its cut pressure, or its open pressure where it has one; else shut
    proportional  its outlet pressure is in proportion to oxygen pressure above the cut pressure; at the open pressure
                  it passes the inlet pressure, up to `full_output`
    """

    kind = "supply-failure-valve"
    values = {
        "cut_pressure": Value(20 * PSI, "ASA Monitor 2015; 79(9): 52, abstract", "seen", "pressure"),
        "open_pressure": practice(25 * PSI, "pressure"),
        "full_output": practice(55 * PSI, "pressure"),
        "drop_60": practice(20e3, "pressure"),  # wide open, at 60 L/min
        "residual_flow": practice(0.0, "flow"),  # when shut, at 345 kPa
    }
    options = {"type": ("shut-off", "proportional")}
    failures = {
        "stuck open": Failure(OCCASIONAL, "it stays open at any oxygen pressure"),
        "stuck shut": Failure(RARE, "it passes nothing"),
        "passing": Failure(COMMON, "when shut it leaks 1 L/min past a worn seat"),
        "drifted low": Failure(OCCASIONAL, "it shuts only at half its rated oxygen pressure"),
        "drifted high": Failure(OCCASIONAL, "it shuts at one and a half times its rated oxygen pressure"),
        "leaking": Failure(OCCASIONAL, "it leaks to the room"),
    }
    protects = ("o2-failure-protection",)

    def plumbing(self) -> Plumbing:
        return supply_way(self, self._through())

    def _through(self) -> Branch:
        ends = "through", self.port("in"), self.port("out")
        if self.has_failed("stuck shut"):
            return Branch(*ends, FLOOR)
        ambient = self.condition.ambient_pa_abs
        up = ambient + 345e3
        way = Nozzle(nozzle_area(60 * LITRE_PER_MINUTE, up, up - self.value("drop_60"), own_mix(self)))
        if self.has_failed("stuck open") or self.condition.is_removed:
            return Branch(*ends, way)
        law = self._follows(way) if self.option("type") == "proportional" else self._cuts(way)
        return Branch(*ends, law, (self.port("oxygen"),))

    def pressures(self) -> tuple[float, float]:
        """Return the oxygen pressures, Pa gauge, at which it is shut and fully open in its present condition."""
        shift = 1 + DRIFT * (self.has_failed("drifted high") - self.has_failed("drifted low"))
        cut = self.value("cut_pressure")
        snap = cut * (1 + SNAP) if self.option("type") == "shut-off" else self.value("open_pressure")
        fully = max(self.component.values.get("open_pressure", snap), cut * (1 + SNAP))
        return cut * shift, fully * shift

    def leak(self) -> float:
        passing = PASSING_M3_S_PA if self.has_failed("passing") else 0.0
        return FLOOR_M3_S_PA + self.value("residual_flow") / 345e3 + passing

    def _cuts(self, way: Nozzle) -> Steered:
        ambient, (cut, fully) = self.condition.ambient_pa_abs, self.pressures()
        return Steered(way, Opening(ambient + cut, ambient + fully), self.leak())

    def _follows(self, way: Nozzle) -> Following:
        ambient, (cut, fully) = self.condition.ambient_pa_abs, self.pressures()
        most = self.value("full_output")
        regulator = Regulating(ambient + most, 20e3, way.area_m2, self.leak())
        return Following(regulator, ambient + cut, most / (fully - cut), ambient, most)


class OxygenAlarm(Element):
    """Sounds while oxygen pressure is below its setting: whistle with reservoir, or pressure switch."""

    kind = "oxygen-alarm"
    values = {"alarm_pressure": remembered(30 * PSI, "pressure", "older pneumatic alarms: about 30 psi")}
    failures = {
        "silent": Failure(OCCASIONAL, "it does not sound"),
        "drifted low": Failure(OCCASIONAL, "it sounds only at half its set pressure"),
        "leaking": Failure(RARE, "it leaks to the room"),
    }
    protects = ("o2-supply-alarm",)

    def plumbing(self) -> Plumbing:
        return Plumbing((to_room(self, "in", SUPPLY_LEAK_M2),) if self.has_failed("leaking") else ())

    def told(self, solution) -> tuple[Told, ...]:
        pressure = self.gauge_at(solution, "in")
        sounds_at = self.value("alarm_pressure") * (1 - DRIFT * self.has_failed("drifted low"))
        if pressure is None or self.has_failed("silent") or self.condition.is_removed or pressure >= sounds_at:
            return ()
        words = f"{self.component.label} sounds: oxygen is at {pressure / 1000:.0f} kPa, below {sounds_at / 1000:.0f} kPa."
        return (Told(self.component.code, "o2-supply-alarm", words),)
