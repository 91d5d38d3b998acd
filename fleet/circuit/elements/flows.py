"""Flow controls, flowmeter tubes, the bank that mixes the gases, and the flush."""

from itertools import permutations

from fleet.circuit.elements.base import Branch, Element, Failure, Plumbing, Value
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

# A wide passage: only the direction of its flow matters. Source: common practice, no source
PASSAGE = resistance(1.0, 10 * LITRE_PER_MINUTE)

# Orders of tubes from the far end of a bank to its outlet; the first choice: not known.
TUBE_ORDERS = ("", *(" ".join(gases) for n in (2, 3) for gases in permutations(("oxygen", "air", "nitrous-oxide"), n)))


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
    failures = {
        "passing": Failure(OCCASIONAL, "when shut it leaks 0.5 L/min"),
        "leaking": Failure(OCCASIONAL, "it leaks to the room"),
    }
    unjoined = frozenset({"out"})

    def plumbing(self) -> Plumbing:
        flow = max(float(self.setting("set_flow")), 0.5 * LITRE_PER_MINUTE * self.has_failed("passing"))
        law = Nozzle(area_for(self, flow, self.value("supply_pressure"))) if flow > 0 else FLOOR
        leaks = (to_room(self, "in", SUPPLY_LEAK_M2),) if self.has_failed("leaking") else ()
        return Plumbing((through(self, law), *leaks))


class Flowmeter(Element):
    """A tapered tube; the weight of the float causes a pressure drop, and the glass may crack."""

    kind = "flowmeter"
    values = {"float_drop": practice(200.0, "pressure")}  # at 5 L/min of oxygen
    failures = {
        "leaking": Failure(OCCASIONAL, "its tube is cracked or its seal leaks to the room"),
        "blocked": Failure(RARE, "it is blocked"),
        "float stuck": Failure(OCCASIONAL, "its float sticks, so that the flow is not what it shows"),
    }

    def plumbing(self) -> Plumbing:
        law = FLOOR if self.has_failed("blocked") else resistance(self.value("float_drop"), 5 * LITRE_PER_MINUTE)
        if not self.has_failed("leaking"):
            return Plumbing((through(self, law),))
        # The crack is above the float and before the bank: its own gas passes it first.
        return Plumbing(
            (
                through(self, law, "in", "crack"),
                through(self, PASSAGE, "crack", "out", "top"),
                to_room(self, "crack", LOW_PRESSURE_LEAK_M2),
            )
        )


class FlowBank(Element):
    """The manifold: its tubes enter one after the other, from "in" at the far end; then gas passes "middle" to "out".

    It may leak beside the tube at the far end, where only the gas of that tube passes, or at "middle". Gas that enters
    at "out" passes neither. See fleet/circuit/tube_order.py, which gives each gas its port and counts the tubes.
    """

    kind = "flow-bank"
    values = {"drop_10": practice(100.0, "pressure"), "leak_flow": LEAK_FLOW}  # in all, at 10 L/min
    options = {"order": TUBE_ORDERS}
    failures = {
        "leaking": Failure(COMMON, "a seal near its outlet leaks to the room"),
        "leaking at the far end": Failure(COMMON, "a seal at the far end of the bank leaks to the room"),
    }
    protects = ("o2-last",)
    acts_elsewhere = True

    def plumbing(self) -> Plumbing:
        half = resistance(self.value("drop_10") / 2, 10 * LITRE_PER_MINUTE)
        ends = ["in", *(f"tube-{place}" for place in range(1, int(self.component.options.get("tubes", "1"))))]
        ways = [
            through(self, PASSAGE, one, other, f"to {other}") for one, other in zip(ends[:-1], ends[1:], strict=True)
        ]
        ways += [through(self, half, ends[-1], "middle"), through(self, half, "middle", "out", "end")]
        return Plumbing((*ways, *self._leaks()))

    def _leaks(self) -> tuple[Branch, ...]:
        if self.has_failed("leaking at the far end"):
            return (to_room(self, "in", LOW_PRESSURE_LEAK_M2),)
        # A measured leak may be anywhere: where it takes the most oxygen.
        return leaks_of(self, "middle" if self.has_failed("leaking") else "in", LOW_PRESSURE_LEAK_M2)


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
