"""The breathing system: outlet, hoses, valves, bag, ventilator, patient. Mean flows, averaged over the breath."""

from fleet.circuit.elements.base import ROOM, STORE, Branch, Element, Failure, Plumbing
from fleet.circuit.elements.defaults import (
    CM_H2O,
    COMMON,
    LEAK_FLOW,
    LITRE_PER_MINUTE,
    LOW_PRESSURE_LEAK_M2,
    OCCASIONAL,
    RARE,
    area_for,
    leaks_of,
    practice,
    remembered,
    through,
    to_room,
)
from fleet.circuit.laws import FLOOR, Circulating, Nozzle, OneWay, resistance


class Outlet(Element):
    """The outlet of mixed gas to the breathing system."""

    kind = "outlet"
    values = {"drop_10": practice(50.0, "pressure")}
    failures = {"blocked": Failure(RARE, "it is blocked")}
    unjoined = frozenset({"out"})

    def plumbing(self) -> Plumbing:
        law = FLOOR if self.has_failed("blocked") else resistance(self.value("drop_10"), 10 * LITRE_PER_MINUTE)
        return Plumbing((through(self, law),))


class OutletSelector(Element):
    """Sends the fresh gas to the breathing system or to an auxiliary outlet for another one."""

    kind = "outlet-selector"
    values = {"drop_10": practice(50.0, "pressure")}
    settings = {"position": "circle"}
    failures = {
        "halfway": Failure(OCCASIONAL, "it stays between its two positions and feeds both"),
        "leaking": Failure(OCCASIONAL, "it leaks to the room"),
    }
    unjoined = frozenset({"auxiliary"})

    def plumbing(self) -> Plumbing:
        branches = (
            through(self, self._law("circle")),
            through(self, self._law("auxiliary"), "in", "auxiliary", "auxiliary"),
        )
        if self.has_failed("leaking"):
            branches += (to_room(self, "in", 4 * LOW_PRESSURE_LEAK_M2),)
        return Plumbing(branches)

    def _law(self, position: str):
        is_open = self.setting("position") == position or self.has_failed("halfway")
        return resistance(self.value("drop_10"), 10 * LITRE_PER_MINUTE) if is_open else FLOOR


class OutletLock(Element):
    """Retains the hose on the outlet; carries no gas."""

    kind = "outlet-lock"
    failures = {"broken": Failure(OCCASIONAL, "it no longer retains the hose", is_silent=True)}
    protects = ("outlet-retention",)

    def plumbing(self) -> Plumbing:
        return Plumbing()


class Absorber(Element):
    """A canister. Fresh absorbent takes all carbon dioxide out of the gas that passes it."""

    kind = "absorber"
    values = {"drop_60": practice(100.0, "pressure"), "leak_flow": LEAK_FLOW}
    failures = {
        "leaking": Failure(COMMON, "its canister does not seal"),
        "blocked": Failure(RARE, "it is blocked"),
        "exhausted": Failure(COMMON, "its absorbent is exhausted or channelled"),
    }

    def plumbing(self) -> Plumbing:
        law = FLOOR if self.has_failed("blocked") else resistance(self.value("drop_60"), 60 * LITRE_PER_MINUTE)
        return Plumbing((through(self, law), *leaks_of(self, "out", 4 * LOW_PRESSURE_LEAK_M2)))

    def clears_carbon_dioxide(self, branch: Branch) -> bool:
        return branch.name == "through" and not self.has_failed("exhausted")


class BreathingHose(Element):
    """A corrugated hose."""

    kind = "breathing-hose"
    values = {"drop_60": practice(50.0, "pressure"), "leak_flow": LEAK_FLOW}
    failures = {
        "leaking": Failure(COMMON, "it is split or loose"),
        "blocked": Failure(OCCASIONAL, "it is kinked"),
    }

    def plumbing(self) -> Plumbing:
        law = FLOOR if self.has_failed("blocked") else resistance(self.value("drop_60"), 60 * LITRE_PER_MINUTE)
        return Plumbing((through(self, law), *leaks_of(self, "out", 10 * LOW_PRESSURE_LEAK_M2)))


class OneWayValve(Element):
    """A disc that lets gas pass one way around the circle."""

    kind = "one-way-valve"
    values = {
        "opening_pressure": practice(0.3 * CM_H2O, "pressure"),
        "resistance_60": practice(1.5 * CM_H2O, "pressure"),
    }
    failures = {
        "stuck open": Failure(COMMON, "its disc stays open"),
        "stuck shut": Failure(RARE, "its disc sticks to the seat"),
    }

    def plumbing(self) -> Plumbing:
        way = resistance(self.value("resistance_60"), 60 * LITRE_PER_MINUTE)
        if self.has_failed("stuck shut"):
            law = FLOOR
        elif self.has_failed("stuck open"):
            law = way
        else:
            law = OneWay(way, self.value("opening_pressure"))
        return Plumbing((through(self, law),))


class AplValve(Element):
    """Vents gas above the set pressure; even fully open it needs its lowest pressure."""

    kind = "apl-valve"
    values = {
        "lowest_pressure": remembered(200.0, "pressure", "ISO 8835-2:2007: 0.1 to 0.3 kPa at 30 L/min"),
        "highest_pressure": practice(70 * CM_H2O, "pressure"),
    }
    settings = {"set_pressure": 0.0}
    failures = {
        "stuck shut": Failure(OCCASIONAL, "it does not open"),
        "stuck open": Failure(OCCASIONAL, "it holds no pressure"),
    }
    unjoined = frozenset({"vent"})

    def plumbing(self) -> Plumbing:
        lowest = self.value("lowest_pressure")
        way = resistance(0.8 * lowest, 30 * LITRE_PER_MINUTE)
        opens_at = min(float(self.setting("set_pressure")), self.value("highest_pressure"))
        if self.has_failed("stuck open"):
            opens_at = 0.0
        law = FLOOR if self.has_failed("stuck shut") else OneWay(way, max(opens_at, 0.2 * lowest))
        return Plumbing((through(self, law, "in", "vent"),))


class ReservoirBag(Element):
    """Swells above its plateau pressure and takes up gas, which limits the pressure during manual ventilation."""

    kind = "reservoir-bag"
    values = {"plateau_pressure": remembered(40 * CM_H2O, "pressure", "ASTM F1204-88: 30 to 60 cmH2O")}
    failures = {"leaking": Failure(COMMON, "it is split")}

    def plumbing(self) -> Plumbing:
        law = OneWay(resistance(500.0, 60 * LITRE_PER_MINUTE), self.value("plateau_pressure"), corner_pa=50.0)
        branches = (Branch("swell", self.port("in"), STORE, law),)
        if self.has_failed("leaking"):
            branches += (to_room(self, "in", 10 * LOW_PRESSURE_LEAK_M2),)
        return Plumbing(branches)


class BagVentSelector(Element):
    """Connects either bag (with the APL valve on its side) or ventilator to the circle."""

    kind = "bag-vent-selector"
    settings = {"position": "bag"}
    failures = {
        "halfway": Failure(OCCASIONAL, "it stays between its two positions and connects both"),
        "leaking": Failure(OCCASIONAL, "it leaks to the room"),
    }
    protects = ("bag-vent-selector",)
    unjoined = frozenset({"ventilator"})

    def plumbing(self) -> Plumbing:
        branches = tuple(through(self, self._law(side), side, "out", side) for side in ("bag", "ventilator"))
        if self.has_failed("leaking"):
            branches += (to_room(self, "out", 4 * LOW_PRESSURE_LEAK_M2),)
        return Plumbing(branches)

    def _law(self, side: str):
        is_open = self.setting("position") == side or self.has_failed("halfway")
        return resistance(30.0, 60 * LITRE_PER_MINUTE) if is_open else FLOOR


class Ventilator(Element):
    """Gas-driven bellows: excess gas of the circle leaves by its spill valve.

    The drive gas goes to the room and does not mix with the breathing gas while the bellows is intact. A piston has no
    drive gas.
    """

    kind = "ventilator"
    values = {
        "spill_pressure": practice(2.5 * CM_H2O, "pressure"),
        "pressure_limit": practice(60 * CM_H2O, "pressure"),
        "drive_flow": practice(10 * LITRE_PER_MINUTE, "flow"),
        "supply_pressure": practice(310e3, "pressure"),
    }
    settings = {"on": 1}
    options = {"type": ("bellows", "hanging bellows", "piston")}
    failures = {
        "torn bellows": Failure(
            OCCASIONAL, "its bellows is torn: drive gas enters the breathing system and breaths escape"
        ),
        "stopped": Failure(OCCASIONAL, "it stops by itself"),
        "spill stuck shut": Failure(OCCASIONAL, "its spill valve does not open"),
        "spill stuck open": Failure(OCCASIONAL, "its spill valve holds no pressure"),
        "drifted high": Failure(RARE, "its pressure limit is at twice the set value"),
        "drifted low": Failure(RARE, "its pressure limit is at a tenth of the set value"),
    }
    unjoined = frozenset({"drive", "exhaust"})

    def plumbing(self) -> Plumbing:
        tear = (to_room(self, "out", 10 * LOW_PRESSURE_LEAK_M2),) if self.has_failed("torn bellows") else ()
        return Plumbing((self._spill(), self._limit(), *self._drive(), *tear))

    def is_running(self) -> bool:
        return float(self.setting("on")) > 0 and not self.has_failed("stopped")

    def _spill(self) -> Branch:
        way = resistance(100.0, 30 * LITRE_PER_MINUTE)
        if self.has_failed("spill stuck shut"):
            return through(self, FLOOR, "out", "exhaust")
        opens_at = 0.0 if self.has_failed("spill stuck open") else self.value("spill_pressure")
        return through(self, OneWay(way, opens_at), "out", "exhaust")

    def _limit(self) -> Branch:
        shift = {"drifted high": 2.0, "drifted low": 0.1}.get(self.condition.failure, 1.0)
        limit = self.value("pressure_limit") * shift
        law = OneWay(resistance(500.0, 60 * LITRE_PER_MINUTE), limit, corner_pa=50.0)
        return through(self, law, "out", "exhaust", "relief")

    def _drive(self) -> tuple[Branch, ...]:
        if self.option("type") == "piston":
            return ()
        drive = self.port("drive")
        is_on = self.is_running()
        branches = (Branch("drive", drive, ROOM, self._jet(self.value("drive_flow")) if is_on else FLOOR),)
        if self.has_failed("torn bellows") and is_on:
            branches += (Branch("driven in", drive, self.port("out"), self._jet(0.3 * self.value("drive_flow"))),)
        return branches

    def _jet(self, flow: float) -> Nozzle:
        return Nozzle(area_for(self, flow, self.value("supply_pressure")))


class PatientConnection(Element):
    """The patient connection: draws `ventilation` from "in" and returns it at "out", through "inspired".

    Oxygen is taken up and carbon dioxide given off at a steady rate: see fleet/circuit/metabolism.py.
    """

    kind = "patient-connection"
    values = {
        "drop_60": practice(100.0, "pressure"),
        "suction": practice(5e3, "pressure"),  # against which no gas moves any more
        "oxygen_uptake": remembered(0.25 * LITRE_PER_MINUTE, "flow", "adult at rest: about 250 mL/min of oxygen"),
        "carbon_dioxide": remembered(0.2 * LITRE_PER_MINUTE, "flow", "adult at rest: 0.8 of the oxygen taken up"),
    }
    settings = {"ventilation": 5 * LITRE_PER_MINUTE}
    failures = {"blocked": Failure(OCCASIONAL, "the tube or the filter at the patient is blocked")}

    def plumbing(self) -> Plumbing:
        half = resistance(self.value("drop_60") / 2, 60 * LITRE_PER_MINUTE)
        breath = Circulating(float(self.setting("ventilation")), self.value("suction"), half)
        inspire = FLOOR if self.has_failed("blocked") else half
        through_lung = Branch("through", self.port("inspired"), self.port("out"), breath, breathes=True)
        return Plumbing((through(self, inspire, "in", "inspired", "inspire"), through_lung))
