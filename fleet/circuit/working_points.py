"""Other settings of the flow controls at which a cause is judged, because ordinary use would hide what it does.

With 2 L/min of oxygen and 4 L/min of another gas, swapped hoses still give enough oxygen, and at high flow nobody
breathes in again what exhausted absorbent leaves. Basis of the flows: common practice, no source.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from fleet.circuit.cover_rows import Cause, CauseGroup
from fleet.circuit.state import State
from fleet.circuit.structure import Circuit, Component
from fleet.circuit.units import to_si
from fleet.circuit.usual_states import controlled_gases, gas_name, set_flow

JUDGED = ("hypoxic-mixture", "carbon-dioxide")  # the hazards that the flows decide
SUPPLIES = ("pipeline-inlet", "cylinder-yoke")
METERING = ("flow-control", "flowmeter", "flow-bank", "ratio-protection", "ratio-link", "electronic-mixer")
IN_THE_CIRCLE = ("absorber", "ventilator")


@dataclass(frozen=True, slots=True)
class WorkingPoint:
    """Flows of the gases, m3/s, in place of those of ordinary use."""

    code: str
    words: str
    state: State


def working_points(circuit: Circuit, ordinary: State) -> dict[str, WorkingPoint]:
    """Return the working points of a circuit besides ordinary use, by code."""
    gases = controlled_gases(circuit)
    others = [gas for gas in ("nitrous-oxide", "air") if gas in gases]
    if "oxygen" not in gases:
        return {}
    wanted = [("oxygen-alone", "", 4.0, 0.0)]
    for gas in others[:1]:
        wanted += [("low-flow", gas, 0.5, 0.5), ("high-flow", gas, 3.0, 6.0)]
    if len(others) > 1:
        wanted.append(("air-carrier", "air", 0.5, 3.5))
    points = (_point(circuit, ordinary, *each) for each in wanted)
    return {point.code: point for point in points}


def _point(circuit: Circuit, ordinary: State, code: str, gas: str, oxygen: float, other: float) -> WorkingPoint:
    state = ordinary
    for each in controlled_gases(circuit):
        flow = oxygen if each == "oxygen" else other if each == gas else 0.0
        state = set_flow(circuit, state, each, to_si(flow, "L/min"))
    words = f"at {oxygen:g} L/min of oxygen" + (f" with {other:g} L/min of {gas_name(gas)}" if gas else " alone")
    return WorkingPoint(code, words, state)


def points_of(cause: Cause, circuit: Circuit, points: dict[str, WorkingPoint]) -> Iterator[WorkingPoint]:
    """Yield the working points at which a cause may do what ordinary use hides."""
    for code in _codes(cause, circuit):
        if code in points:
            yield points[code]


def _codes(cause: Cause, circuit: Circuit) -> tuple[str, ...]:
    if cause.group is CauseGroup.SUPPLY:
        return ("oxygen-alone", "air-carrier") if _brings_another_gas(cause, circuit) else ()
    kinds = {circuit.component(fault.component).kind for fault in cause.faults}
    if kinds & set(METERING):
        return ("low-flow", "high-flow", "air-carrier")
    return ("low-flow",) if kinds & set(IN_THE_CIRCLE) else ()


def _brings_another_gas(cause: Cause, circuit: Circuit) -> bool:
    return any(_is_foreign(component, cause.state) for component in circuit.of_kind(*SUPPLIES))


def _is_foreign(component: Component, state: State) -> bool:
    settings = state.of(component.code)
    gas = settings.get("supply_gas") or settings.get("cylinder_gas")
    return gas not in (None, "own", component.gas)


def cause_at(cause: Cause, point: WorkingPoint, ordinary: State) -> Cause:
    """Return the cause at a working point; what the cause itself sets stays."""
    settings = dict(cause.state.settings)
    for component, flows in point.state.settings.items():
        if flows != ordinary.of(component) and settings.get(component, {}) == ordinary.of(component):
            settings[component] = flows
    return replace(
        cause, title=f"{cause.title}, {point.words}", state=replace(cause.state, code=point.code, settings=settings)
    )
