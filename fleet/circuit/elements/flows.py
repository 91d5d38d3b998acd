"""Flow controls, flowmeter tubes, the bank that mixes the gases, and the flush."""

from fleet.circuit.elements.base import Element, Failure, Plumbing, Value
from fleet.circuit.elements.defaults import (
    COMMON,
    LEAK_FLOW,
    LITRE_PER_MINUTE,
    LOW_PRESSURE_LEAK_M2,
    OCCASIONAL,
    PSI,
    RARE,
    SUPPLY_LEAK_M2,
    area_for,
    leaks_of,
    practice,
    remembered,
    through,
    to_room,
)
from fleet.circuit.laws import FLOOR, Nozzle, resistance


class FlowControl(Element):
    """A needle valve: its opening passes the set flow from its rated supply pressure into the room.

    At another supply pressure it passes more or less: the knob sets an opening, not a flow.
    """

    kind = "flow-control"
    values = {
        "supply_pressure": remembered(310e3, "pressure", "45 psi"),
        "highest_flow": practice(10 * LITRE_PER_MINUTE, "flow"),
        "basal_flow": practice(0.0, "flow"),
    }
    settings = {"set_flow": 0.0}
    failures = {
        "stuck open": Failure(RARE, "it stays fully open"),
        "stuck shut": Failure(RARE, "it is stuck shut"),
        "passing": Failure(OCCASIONAL, "when shut it leaks 0.5 L/min"),
        "leaking": Failure(OCCASIONAL, "its gland leaks to the room"),
    }

    def plumbing(self) -> Plumbing:
        flow = self.flow_set()
        law = Nozzle(area_for(self, flow, self.value("supply_pressure"))) if flow > 0 else FLOOR
        branches = (through(self, law),)
        if self.has_failed("leaking"):
            branches += (to_room(self, "in", SUPPLY_LEAK_M2),)
        return Plumbing(branches)

    def flow_set(self) -> float:
        """Return the flow at its rated supply pressure, m3/s."""
        if self.has_failed("stuck shut"):
            return 0.0
        if self.has_failed("stuck open"):
            return self.value("highest_flow")
        least = 0.5 * LITRE_PER_MINUTE if self.has_failed("passing") else 0.0
        return max(float(self.setting("set_flow")), self.value("basal_flow"), least)


class AuxiliaryFlowmeter(Element):
    """A separate oxygen outlet, for a mask."""

    kind = "auxiliary-flowmeter"
    values = {"supply_pressure": remembered(310e3, "pressure", "45 psi")}
    settings = {"set_flow": 0.0}
    failures = {"passing": Failure(OCCASIONAL, "when shut it leaks 0.5 L/min")}
    unjoined = frozenset({"out"})

    def plumbing(self) -> Plumbing:
        flow = max(float(self.setting("set_flow")), 0.5 * LITRE_PER_MINUTE * self.has_failed("passing"))
        law = Nozzle(area_for(self, flow, self.value("supply_pressure"))) if flow > 0 else FLOOR
        return Plumbing((through(self, law),))


class Flowmeter(Element):
    """A tapered tube; the weight of the float causes a pressure drop, and the glass may crack."""

    kind = "flowmeter"
    values = {"float_drop": practice(200.0, "pressure")}  # at 5 L/min of oxygen
    failures = {
        "leaking": Failure(OCCASIONAL, "its tube is cracked or its seal leaks to the room"),
        "blocked": Failure(RARE, "it is blocked"),
    }

    def plumbing(self) -> Plumbing:
        law = FLOOR if self.has_failed("blocked") else resistance(self.value("float_drop"), 5 * LITRE_PER_MINUTE)
        branches = (through(self, law),)
        if self.has_failed("leaking"):
            branches += (to_room(self, "out", LOW_PRESSURE_LEAK_M2),)
        return Plumbing(branches)


class FlowBank(Element):
    """The manifold. Gas from "in" passes "middle", where it may leak, before it mixes with gas that enters at "out".

    If oxygen enters last, at "out", a leak loses the other gases first. With this feature removed the leak is at "out".
    """

    kind = "flow-bank"
    values = {"drop_10": practice(100.0, "pressure"), "leak_flow": LEAK_FLOW}  # in all, at 10 L/min
    failures = {"leaking": Failure(COMMON, "a seal or a tube of the bank leaks to the room")}
    protects = ("o2-last",)

    def plumbing(self) -> Plumbing:
        half = resistance(self.value("drop_10") / 2, 10 * LITRE_PER_MINUTE)
        leaks_at = "out" if self.condition.is_removed else "middle"
        return Plumbing(
            (
                through(self, half, "in", "middle"),
                through(self, half, "middle", "out", "end"),
                *leaks_of(self, leaks_at, LOW_PRESSURE_LEAK_M2),
            )
        )


class FlushValve(Element):
    """Sends oxygen straight to the outlet while pressed."""

    kind = "flush-valve"
    values = {
        "supply_pressure": practice(50 * PSI, "pressure"),
        "flush_flow": Value(
            50 * LITRE_PER_MINUTE,
            "APSF, Understanding your machine: oxygen flush valve: 35 to 75 L/min",
            "seen",
            "flow",
        ),
    }
    settings = {"pressed": 0}
    failures = {
        "stuck open": Failure(OCCASIONAL, "it does not shut when let go"),
        "stuck shut": Failure(RARE, "it delivers no flow"),
        "passing": Failure(OCCASIONAL, "when shut it leaks 1 L/min of oxygen into the fresh gas"),
    }

    def plumbing(self) -> Plumbing:
        flow = self._flow()
        law = Nozzle(area_for(self, flow, self.value("supply_pressure"))) if flow > 0 else FLOOR
        return Plumbing((through(self, law),))

    def _flow(self) -> float:
        if self.has_failed("stuck shut"):
            return 0.0
        if self.has_failed("stuck open") or float(self.setting("pressed")):
            return self.value("flush_flow")
        return 1 * LITRE_PER_MINUTE if self.has_failed("passing") else 0.0
