"""Scavenging: receives and removes waste gas."""

from fleet.circuit.elements.base import DISPOSAL, Branch, Element, Failure, Plumbing, Value
from fleet.circuit.elements.defaults import (
    COMMON,
    LITRE_PER_MINUTE,
    LOW_PRESSURE_LEAK_M2,
    OCCASIONAL,
    practice,
    remembered,
    through,
    to_room,
)
from fleet.circuit.laws import FLOOR, Drawing, OneWay, resistance

SEEN = "Anaesthesia UK, article 100163 (frca.co.uk, no year stated)"


class ScavengingInterface(Element):
    """Receives waste gas, which an extract removes.

    closed  opens to the room by a positive and a negative relief
    open    is open to the room at its port "vent"
    """

    kind = "scavenging-interface"
    values = {
        "positive_relief": Value(1000.0, SEEN, "seen", "pressure"),
        "negative_relief": Value(50.0, SEEN, "seen", "pressure"),
        "suction": remembered(53e3, "pressure", "HTM 02-01:2006: 53 kPa below atmosphere"),
        "rise_60": practice(50.0, "pressure"),  # past an open relief at 60 L/min
    }
    settings = {"extract_flow": 50 * LITRE_PER_MINUTE}
    options = {"type": ("closed", "open")}
    failures = {
        "positive relief stuck shut": Failure(OCCASIONAL, "excess gas cannot escape into the room", is_silent=True),
        "negative relief stuck shut": Failure(OCCASIONAL, "room air cannot enter", is_silent=True),
        "blocked": Failure(OCCASIONAL, "its inlet is blocked"),
        "leaking": Failure(COMMON, "it leaks to the room"),
    }
    protects = ("scavenging-relief",)
    unjoined = frozenset({"extract", "vent"})

    def plumbing(self) -> Plumbing:
        way = FLOOR if self.has_failed("blocked") else resistance(20.0, 60 * LITRE_PER_MINUTE)
        branches = (through(self, way, "in", "chamber"), self._extract(), *self._reliefs())
        if self.has_failed("leaking"):
            branches += (to_room(self, "chamber", 4 * LOW_PRESSURE_LEAK_M2),)
        return Plumbing(branches)

    def _extract(self) -> Branch:
        flow = float(self.setting("extract_flow"))
        law = Drawing(flow, self.value("suction")) if flow > 0 else FLOOR
        return Branch("extract", self.port("chamber"), DISPOSAL, law)

    def _reliefs(self) -> tuple[Branch, ...]:
        is_open = self.option("type") == "open"
        way = resistance(self.value("rise_60") * (0.2 if is_open else 1), 60 * LITRE_PER_MINUTE)
        outward = OneWay(way, 0.0 if is_open else self.value("positive_relief"))
        inward = OneWay(way, 0.0 if is_open else self.value("negative_relief"))
        if self.condition.is_removed or self.has_failed("positive relief stuck shut"):
            outward = FLOOR
        if self.condition.is_removed or self.has_failed("negative relief stuck shut"):
            inward = FLOOR
        return (
            through(self, outward, "chamber", "vent", "relief"),
            through(self, inward, "vent", "chamber", "inlet"),
        )
