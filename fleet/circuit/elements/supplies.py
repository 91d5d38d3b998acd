"""Supplies: pipeline inlet, cylinder yoke, and their plugs, filters and gauges."""

from fleet.circuit.cylinders import cylinder_pressure_pa_abs
from fleet.circuit.elements.base import ROOM, Boundary, Branch, Element, Failure, Plumbing, Told
from fleet.circuit.elements.defaults import (
    COMMON,
    LITRE_PER_MINUTE,
    OCCASIONAL,
    OWN,
    PSI,
    RARE,
    SUPPLY_LEAK_M2,
    area_for,
    practice,
    remembered,
    through,
    to_room,
)
from fleet.circuit.gases import Mix
from fleet.circuit.laws import FLOOR, Nozzle, resistance


def supplied(element: Element, key: str) -> str:
    """Return the code of the gas in a supply, empty for none."""
    gas = element.setting(key)
    return (element.component.gas or "oxygen") if gas == OWN else gas


class PipelineInlet(Element):
    """The hose from the wall. Without a hose its inlet is open to the room."""

    kind = "pipeline-inlet"
    values = {
        "pipeline_pressure": remembered(50 * PSI, "pressure", "NFPA 99:2012: US nominal 50 to 55 psi"),
        "hose_drop": practice(10e3, "pressure"),  # at 60 L/min of oxygen
    }
    settings = {"supply_gas": OWN, "supply_pressure": 50 * PSI}
    failures = {
        "leaking": Failure(OCCASIONAL, "its hose or connection leaks to the room"),
        "blocked": Failure(OCCASIONAL, "its hose is kinked or its inlet is blocked"),
    }
    protects = ("pipeline-gas-specific",)
    unjoined = frozenset({"in"})

    def plumbing(self) -> Plumbing:
        law = FLOOR if self.has_failed("blocked") else resistance(self.value("hose_drop"), 60 * LITRE_PER_MINUTE)
        branches = (through(self, law),)
        if self.has_failed("leaking"):
            branches += (to_room(self, "out", 5 * SUPPLY_LEAK_M2),)
        return Plumbing(branches, self.boundaries())

    def boundaries(self) -> tuple[Boundary, ...]:
        gas = supplied(self, "supply_gas")
        if not gas:
            return ()
        pressure = self.condition.ambient_pa_abs + float(self.setting("supply_pressure"))
        return (Boundary(self.port("in"), pressure, Mix.supply(gas)),)


class CylinderYoke(Element):
    """A yoke with its cylinder, shut or open, or without one (its inlet is then open to the room).

    The pressure is computed from the content for the real gas at 20 C. A shut cylinder seals its yoke.
    """

    kind = "cylinder-yoke"
    values = {
        "highest_pressure": remembered(1900 * PSI, "pressure", "StatPearls, Gas Cylinders: E cylinder, oxygen"),
        "valve_flow": practice(400 * LITRE_PER_MINUTE, "flow"),  # through its valve at full pressure
    }
    settings = {"cylinder_gas": OWN, "content": 1.0, "is_open": 0}
    failures = {
        "leaking": Failure(COMMON, "the seal between cylinder and yoke leaks to the room"),
        "blocked": Failure(OCCASIONAL, "its inlet is blocked, or the cylinder valve opens too little"),
    }
    protects = ("pin-index",)
    unjoined = frozenset({"in"})

    def plumbing(self) -> Plumbing:
        gas = supplied(self, "cylinder_gas")
        is_shut = bool(gas) and not float(self.setting("is_open"))
        branches = (through(self, FLOOR if is_shut or self.has_failed("blocked") else self._valve()),)
        if self.has_failed("leaking"):
            branches += (to_room(self, "out", SUPPLY_LEAK_M2),)
        if not gas or is_shut:
            return Plumbing(branches)
        pressure = cylinder_pressure_pa_abs(
            gas, float(self.setting("content")), self.value("highest_pressure"), self.condition.ambient_pa_abs
        )
        return Plumbing(branches, (Boundary(self.port("in"), pressure, Mix.supply(gas)),))

    def _valve(self) -> Nozzle:
        return Nozzle(area_for(self, self.value("valve_flow"), 1900 * PSI))


class YokeBlock(Element):
    """The plug in an empty yoke."""

    kind = "yoke-block"
    failures = {"leaking": Failure(OCCASIONAL, "it does not seal")}

    def plumbing(self) -> Plumbing:
        if self.has_failed("leaking"):
            return Plumbing((to_room(self, "in", SUPPLY_LEAK_M2),))
        return Plumbing((Branch("leak", self.port("in"), ROOM, FLOOR),))


class Filter(Element):
    """A sintered disc, which dirt may block."""

    kind = "filter"
    values = {"drop_60": practice(2e3, "pressure")}  # at 60 L/min
    failures = {"blocked": Failure(OCCASIONAL, "it is blocked with dirt")}

    def plumbing(self) -> Plumbing:
        law = FLOOR if self.has_failed("blocked") else resistance(self.value("drop_60"), 60 * LITRE_PER_MINUTE)
        return Plumbing((through(self, law),))


class Gauge(Element):
    """A gauge only shows the pressure and warns nobody: it does not count as a safety feature."""

    kind = "gauge"
    failures = {
        "leaking": Failure(RARE, "its tube leaks to the room"),
        "stuck": Failure(OCCASIONAL, "its pointer is stuck"),
    }

    def plumbing(self) -> Plumbing:
        return Plumbing((to_room(self, "in", SUPPLY_LEAK_M2),) if self.has_failed("leaking") else ())

    def told(self, solution) -> tuple[Told, ...]:
        pressure = self.gauge_at(solution, "in")
        if pressure is None or self.has_failed("stuck"):
            return ()
        return (Told(self.component.code, "", f"{self.component.label} shows {pressure / 1000:.0f} kPa."),)
