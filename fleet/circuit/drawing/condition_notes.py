"""Short notes on why a component is shut, open or failed."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from fleet.catalogue import FEATURES, GASES
from fleet.circuit.drawing.nets import connection_order
from fleet.circuit.drawing.solved_numbers import UNITS, flow_text, gauge_at, pressure_text
from fleet.circuit.drawing.streams import NOTICED_M3_S, PRESSED_PA
from fleet.circuit.effects import foreign_share
from fleet.circuit.elements.base import ROOM, Element
from fleet.circuit.quantity_words import species_name
from fleet.circuit.solution import Solution
from fleet.circuit.structure import Port

FOREIGN = 0.02  # fraction of a wrong gas from which a note reports it
SMALL_PA = 500.0

_SUPPLIES = ("pipeline-inlet", "cylinder-yoke")


class Mark(StrEnum):
    """The mark drawn on a component: a bar, or a sign at its corner."""

    SHUT = "shut"  # as set by hand, or as usual
    CUT = "cut"  # an expected flow or pressure is missing
    FAILED = "failed"
    OPEN = "open"  # a relief valve or a leak
    TELLS = "tells"
    WRONG = "wrong"  # a wrong gas enters
    MOVED = "moved"  # a hose is disconnected or misconnected
    HOLDS = "holds"  # a wrong gas from elsewhere; the pattern of its lines shows it


@dataclass(frozen=True, slots=True)
class Note:
    words: str
    mark: Mark

    @property
    def is_urgent(self) -> bool:
        return self.mark not in (Mark.SHUT, Mark.HOLDS)


@dataclass(frozen=True, slots=True)
class Look:
    """One component of a solved circuit."""

    element: Element
    solution: Solution
    units: str

    @property
    def component(self):
        return self.element.component

    def has(self, name: str) -> bool:
        return Port(self.component.code, name) in self.solution.pressures_pa_abs

    def gauge(self, name: str) -> float:
        return gauge_at(Port(self.component.code, name), self.solution) if self.has(name) else 0.0

    def pressure(self, pa_gauge: float) -> str:
        return pressure_text(pa_gauge, self.units)

    def flow(self, name: str = "through") -> float:
        found = self.solution.flows.get((self.component.code, name))
        return found.value_m3_s if found else 0.0

    def passes(self, name: str = "through") -> bool:
        return abs(self.flow(name)) > NOTICED_M3_S


def notes_of(element: Element, solution: Solution, units: str = "kPa") -> tuple[Note, ...]:
    """Return the notes on a component in a solved state, the most serious first; units "kPa" or "psi"."""
    if units not in UNITS:
        raise ValueError(f"units is {units!r}; accepted: {', '.join(UNITS)}.")
    look = Look(element, solution, units)
    found = [note for notes in _ALWAYS for note in notes(look)] + [*_BY_KIND.get(element.kind, _nothing)(look)]
    order = [Mark.FAILED, Mark.MOVED, Mark.WRONG, Mark.TELLS, Mark.CUT, Mark.OPEN, Mark.SHUT, Mark.HOLDS]
    return tuple(sorted(found, key=lambda note: order.index(note.mark)))


def notes_by_component(elements: Mapping[str, Element], solution: Solution, units: str) -> dict[str, tuple[Note, ...]]:
    """Return the notes on all components; if a supply delivers a wrong gas, only the supply is marked."""
    found = {code: notes_of(element, solution, units) for code, element in elements.items()}
    givers = {
        code
        for code, notes in found.items()
        if elements[code].kind in _SUPPLIES and any(note.mark is Mark.WRONG for note in notes)
    }
    if not givers:
        return found
    return {code: notes if code in givers else tuple(_calmed(note) for note in notes) for code, notes in found.items()}


def _calmed(note: Note) -> Note:
    return replace(note, mark=Mark.HOLDS) if note.mark is Mark.WRONG else note


def _nothing(_look: Look) -> Iterator[Note]:
    return iter(())


def _failure(look: Look) -> Iterator[Note]:
    mode = look.element.condition.failure
    if mode:
        yield Note(f"failed: {look.element.failures[mode].words}", Mark.FAILED)
    if look.element.condition.is_removed:
        gone = [FEATURES[code].name for code in look.element.protects if code in look.solution.removed]
        yield Note(f"removed: {', '.join(gone)}", Mark.FAILED)


def _alarms(look: Look) -> Iterator[Note]:
    for told in look.solution.told:
        if told.component == look.component.code and told.feature:
            yield Note(told.words.removeprefix(f"{look.component.label} ").rstrip("."), Mark.TELLS)


def _lost(look: Look) -> Iterator[Note]:
    """Gas that escapes into the room unintentionally, or where a hose is disconnected."""
    ordinary = {"drive", "vent", "relief", *(() if look.component.kind == "outlet" else ("open vent", "open exhaust"))}
    for (code, name), flow in sorted(look.solution.flows.items()):
        if code != look.component.code or ROOM not in (flow.a, flow.b) or name in ordinary or not look.passes(name):
            continue
        if (flow.b == ROOM) == (flow.value_m3_s > 0):
            yield Note(f"{flow_text(flow.value_m3_s)} to the room", Mark.OPEN)
        else:
            yield Note(f"draws {flow_text(flow.value_m3_s)} of room air", Mark.OPEN)


def _hoses(look: Look) -> Iterator[Note]:
    """Connections that the state opens or adds."""
    state, circuit = look.solution.state, look.solution.circuit
    put_on = {port for connection in state.made for port in (connection.source, connection.target)}
    for connection in sorted(state.made, key=connection_order):
        for port, other in ((connection.source, connection.target), (connection.target, connection.source)):
            if port.component == look.component.code:
                yield Note(f"now connected to {circuit.component(other.component).label}", Mark.MOVED)
    for connection in sorted(state.cut, key=connection_order):
        for port in sorted({connection.source, connection.target} - put_on):
            if port.component == look.component.code:
                yield Note("hose disconnected" if connection.size else "disconnected", Mark.MOVED)


def _foreign(look: Look) -> Iterator[Note]:
    gas = look.component.gas
    if gas not in GASES or look.component.kind == "ventilator":
        return
    name = "out" if look.component.kind in _SUPPLIES else "in"
    mix = look.solution.mixes.get(Port(look.component.code, name))
    is_felt = look.gauge(name) > PRESSED_PA or look.passes()
    if mix is not None and is_felt and foreign_share(mix, gas) > FOREIGN:
        other = max((species for species in mix.shares if species != gas), key=mix.share)
        yield Note(f"{'delivers' if name == 'out' else 'holds'} {species_name(other)}", Mark.WRONG)


def _inlet(look: Look) -> Iterator[Note]:
    gas = look.element.setting("supply_gas")
    if not gas:
        yield Note("hose disconnected", Mark.CUT)
    elif float(look.element.setting("supply_pressure")) <= SMALL_PA:
        yield Note("no pressure from the wall", Mark.CUT)


def _yoke(look: Look) -> Iterator[Note]:
    if not look.element.setting("cylinder_gas"):
        yield Note("no cylinder", Mark.SHUT)
    elif not float(look.element.setting("is_open")):
        yield Note("cylinder shut", Mark.SHUT)
    elif float(look.element.setting("content")) <= 0:
        yield Note("cylinder empty", Mark.CUT)


def _steered(look: Look) -> Iterator[Note]:
    """A valve held open by oxygen pressure."""
    if look.element.condition.is_removed or look.element.condition.failure in ("stuck open", "stuck shut"):
        return
    pilot, (cut, fully) = look.gauge("oxygen"), _pressures(look.element)
    if not look.passes() and pilot <= fully and pilot <= cut * 1.1:
        yield Note(f"shut: oxygen {look.pressure(pilot)}, opens above {look.pressure(cut)}", Mark.CUT)
    elif pilot < fully:
        yield Note(f"throttles: oxygen {look.pressure(pilot)}, full at {look.pressure(fully)}", Mark.CUT)


def _pressures(element: Element) -> tuple[float, float]:
    """Return the oxygen pressures, Pa gauge, at which a piloted valve shuts and is fully open."""
    if element.kind == "regulator-cutoff":
        return element.value("cut_pressure"), element.value("full_oxygen")
    return element.pressures()


def _check_valve(look: Look) -> Iterator[Note]:
    if look.flow() < -NOTICED_M3_S:
        yield Note(f"{flow_text(look.flow())} flows back", Mark.OPEN)
    elif not look.passes() and look.gauge("in") < SMALL_PA and look.gauge("out") > PRESSED_PA:
        yield Note(f"holds {look.pressure(look.gauge('out'))} back", Mark.SHUT)


def _one_way(look: Look) -> Iterator[Note]:
    if look.flow() < -NOTICED_M3_S:
        yield Note(f"{flow_text(look.flow())} flows back", Mark.OPEN)


def _regulator(look: Look) -> Iterator[Note]:
    set_to = look.element.value("output_pressure")
    if look.passes("relief"):
        yield Note(f"its relief valve vents {flow_text(look.flow('relief'))}", Mark.OPEN)
    if look.flow() < -NOTICED_M3_S:
        yield Note(f"{flow_text(look.flow())} flows back", Mark.OPEN)
    elif not look.passes() and look.gauge("in") > look.gauge("out") > set_to + SMALL_PA:
        yield Note(f"shut: {look.pressure(look.gauge('out'))} downstream, set to {look.pressure(set_to)}", Mark.SHUT)


def _switch(look: Look) -> Iterator[Note]:
    if not float(look.element.setting("on")):
        yield Note("off", Mark.CUT)


def _control(look: Look) -> Iterator[Note]:
    if look.element.flow_set() <= 0 and not look.element.condition.failure:
        yield Note("shut by hand", Mark.SHUT)
    elif not look.passes() and not look.element.condition.failure:
        yield Note("open, no flow", Mark.CUT)


def _ratio(look: Look) -> Iterator[Note]:
    if (
        look.gauge("nitrous-oxide-in") > SMALL_PA
        and not look.passes("nitrous oxide")
        and not look.element.condition.failure
    ):
        yield Note("holds nitrous oxide back: too little oxygen", Mark.CUT)


def _mixer(look: Look) -> Iterator[Note]:
    for name, key in (("through", "oxygen_flow"), ("nitrous oxide", "nitrous_oxide_flow"), ("air", "air_flow")):
        gas = "oxygen" if name == "through" else name
        if float(look.element.setting(key)) > NOTICED_M3_S and not look.passes(name):
            yield Note(f"delivers no {gas} although it is set", Mark.CUT)


def _relief(look: Look) -> Iterator[Note]:
    if look.passes("vent"):
        yield Note(f"open: {flow_text(look.flow('vent'))} to the room", Mark.OPEN)


def _ventilator(look: Look) -> Iterator[Note]:
    if look.passes("relief"):
        yield Note(f"its pressure limit vents {flow_text(look.flow('relief'))}", Mark.OPEN)


def _bag(look: Look) -> Iterator[Note]:
    if look.passes("swell"):
        yield Note(f"swells: takes up {flow_text(look.flow('swell'))}", Mark.OPEN)


def _scavenging(look: Look) -> Iterator[Note]:
    if look.flow("relief") > NOTICED_M3_S:
        yield Note(f"vents {flow_text(look.flow('relief'))} to the room", Mark.OPEN)


_ALWAYS = (_failure, _hoses, _alarms, _lost, _foreign)
_BY_KIND: Mapping[str, Callable[[Look], Iterator[Note]]] = {
    "pipeline-inlet": _inlet,
    "cylinder-yoke": _yoke,
    "supply-failure-valve": _steered,
    "regulator-cutoff": _steered,
    "check-valve": _check_valve,
    "one-way-valve": _one_way,
    "pressure-regulator": _regulator,
    "main-switch": _switch,
    "flow-control": _control,
    "ratio-protection": _ratio,
    "electronic-mixer": _mixer,
    "pipe-relief-valve": _relief,
    "relief-valve": _relief,
    "ventilator": _ventilator,
    "reservoir-bag": _bag,
    "scavenging-interface": _scavenging,
}
