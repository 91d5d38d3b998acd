"""Regulators, and the combined regulator and cut-off valve."""

from fleet.circuit.elements.base import ROOM, Branch, Element, Failure, Plumbing
from fleet.circuit.elements.defaults import (
    COMMON,
    LITRE_PER_MINUTE,
    OCCASIONAL,
    PSI,
    RARE,
    SUPPLY_LEAK_M2,
    area_for,
    practice,
    remembered,
    supply_way,
    to_room,
)
from fleet.circuit.laws import (
    FLOOR,
    TIGHT_M3_S_PA,
    Following,
    Nozzle,
    OneWay,
    Regulating,
    resistance,
)

BANDS = 3  # a regulator is fully open at this multiple of its droop at rated flow. Source: common practice, no source
DRIFT = 0.30  # relative error of a drifted one: 45 psi then exceeds the pipeline's 50 psi
CREEP_M3_S = 1 * LITRE_PER_MINUTE  # through a worn seat at rated inlet pressure


def seat(element: Element, output_pa: float, inlet_pa: float) -> tuple[float, float]:
    """Return band (Pa) and fully open area (m2) of a regulator with this droop at its rated flow and inlet."""
    droop = element.value("droop")
    at_rated = area_for(element, element.value("rated_flow"), inlet_pa, max(output_pa - droop, 0.0))
    return BANDS * droop, at_rated * BANDS


class PressureRegulator(Element):
    """Regulates its outlet: the set pressure at zero flow, `droop` less at rated flow and rated inlet pressure.

    A first stage reduces cylinder pressure, a second stage the pressure of the first or of the pipeline. A component
    with a relief pressure has a built-in relief valve to the room.
    """

    kind = "pressure-regulator"
    values = {
        "output_pressure": remembered(45 * PSI, "pressure", "common practice, no source: set below pipeline pressure"),
        "inlet_pressure": practice(5e6, "pressure"),
        "rated_flow": practice(100 * LITRE_PER_MINUTE, "flow"),
        "droop": practice(20e3, "pressure"),
        "creep_flow": practice(0.0, "flow"),  # past its shut seat, at rated inlet pressure
    }
    options = {"stage": ("first", "second")}
    failures = {
        "stuck open": Failure(RARE, "it passes its inlet pressure"),
        "stuck shut": Failure(RARE, "it passes nothing"),
        "drifted high": Failure(OCCASIONAL, "its outlet pressure is 30 % too high"),
        "drifted low": Failure(OCCASIONAL, "its outlet pressure is 30 % too low"),
        "creeping": Failure(COMMON, "its seat leaks, so that its outlet pressure creeps up"),
        "leaking": Failure(OCCASIONAL, "its outlet leaks to the room"),
    }

    def plumbing(self) -> Plumbing:
        branches = [Branch("through", self.port("in"), self.port("out"), self._law())]
        relief = self.component.values.get("relief_pressure")
        if relief:
            law = OneWay(resistance(50e3, 200 * LITRE_PER_MINUTE), relief, corner_pa=1e3)
            branches.append(Branch("relief", self.port("out"), ROOM, law))
        if self.has_failed("leaking"):
            branches.append(to_room(self, "out", SUPPLY_LEAK_M2))
        return Plumbing(tuple(branches))

    def inlet_pressure(self) -> float:
        if self.option("stage") == "second":
            return self.component.values.get("inlet_pressure", 45 * PSI)
        return self.value("inlet_pressure")

    def _law(self):
        output, inlet = self.value("output_pressure"), self.inlet_pressure()
        band, area = seat(self, output, inlet)
        if self.has_failed("stuck shut"):
            return FLOOR
        if self.has_failed("stuck open"):
            return Nozzle(area)
        leak = TIGHT_M3_S_PA + (self.value("creep_flow") + self.has_failed("creeping") * CREEP_M3_S) / inlet
        output *= 1 + DRIFT * (self.has_failed("drifted high") - self.has_failed("drifted low"))
        return Regulating(self.condition.ambient_pa_abs + output, band, area, leak)


class RegulatorCutoff(Element):
    """A second-stage regulator of another gas that follows oxygen pressure: it falls with it, and shuts without it.

    Its output is proportional to oxygen pressure above `cut_pressure`, and full at `full_oxygen`.
    """

    kind = "regulator-cutoff"
    values = {
        "output_pressure": practice(26 * PSI, "pressure"),
        "inlet_pressure": practice(45 * PSI, "pressure"),
        "cut_pressure": practice(0.5 * PSI, "pressure"),
        "full_oxygen": practice(40 * PSI, "pressure"),
        "rated_flow": practice(20 * LITRE_PER_MINUTE, "flow"),
        "droop": practice(15e3, "pressure"),
    }
    failures = {
        "stuck open": Failure(OCCASIONAL, "it regulates, but no longer follows oxygen pressure"),
        "stuck shut": Failure(RARE, "it passes nothing"),
        "drifted high": Failure(OCCASIONAL, "its outlet pressure is 30 % too high"),
        "drifted low": Failure(OCCASIONAL, "its outlet pressure is 30 % too low"),
        "leaking": Failure(OCCASIONAL, "its outlet leaks to the room"),
    }
    protects = ("o2-failure-protection",)

    def plumbing(self) -> Plumbing:
        return supply_way(self, self._through())

    def _through(self) -> Branch:
        ends = "through", self.port("in"), self.port("out")
        if self.has_failed("stuck shut"):
            return Branch(*ends, FLOOR)
        ambient, output = self.condition.ambient_pa_abs, self.value("output_pressure")
        band, area = seat(self, output, self.value("inlet_pressure"))
        output *= 1 + DRIFT * (self.has_failed("drifted high") - self.has_failed("drifted low"))
        regulator = Regulating(ambient + output, band, area)
        if self.has_failed("stuck open") or self.condition.is_removed:
            return Branch(*ends, regulator)
        cut = self.value("cut_pressure")
        ratio = output / (self.value("full_oxygen") - cut)
        return Branch(*ends, Following(regulator, ambient + cut, ratio, ambient, output), (self.port("oxygen"),))
