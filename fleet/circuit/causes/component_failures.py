"""Causes from component failures: every component in each failure mode, in the state in which it works."""

from collections.abc import Iterator

from fleet.circuit.cover_rows import Cause, CauseGroup
from fleet.circuit.elements import element_for
from fleet.circuit.elements.base import Condition
from fleet.circuit.locations import downstream
from fleet.circuit.state import Fault, State
from fleet.circuit.structure import Circuit, Component
from fleet.circuit.usual_states import gas_name, on_cylinders, ordinary_state, yokes_of


def component_causes(circuit: Circuit) -> tuple[Cause, ...]:
    """Return one cause for each component, each of its failure modes, and each state in which the component works."""
    ordinary = ordinary_state(circuit)
    return tuple(cause for component in circuit.components for cause in _failures(circuit, component, ordinary))


def _failures(circuit: Circuit, component: Component, ordinary: State) -> Iterator[Cause]:
    states = list(_states_at_work(circuit, component, ordinary))
    for mode, failure in element_for(component, Condition()).failures.items():
        for code, words, state in states:
            prevented = ("keyed-filler",) if mode == "wrong agent" else ()
            yield Cause(
                code="-".join(filter(None, (component.code, mode.replace(" ", "-"), code))),
                title=f"{component.label}: {failure.words.rstrip('.')}{words}",
                group=CauseGroup.COMPONENT,
                likelihood=failure.likelihood,
                state=state,
                faults=(Fault(component.code, mode),),
                prevented_by=prevented,
            )


def _states_at_work(circuit: Circuit, component: Component, ordinary: State) -> Iterator[tuple[str, str, State]]:
    """Yield (code, words, state): components of a cylinder matter when it is open, of the bag when it is selected."""
    if component.kind == "cylinder-yoke" or _is_behind_a_yoke(circuit, component):
        first = next(iter(yokes_of(circuit, component.gas)), None)
        if first is None:
            yield "", "", ordinary
            return
        name = gas_name(component.gas)
        yield "in-use", f", while the {name} cylinder is in use", on_cylinders(circuit, ordinary, component.gas)
        if any(inlet.gas == component.gas for inlet in circuit.of_kind("pipeline-inlet")):
            left = ordinary.with_settings(first.code, is_open=1.0)
            yield "left-open", f", with the {name} cylinder left open and the pipeline connected", left
        return
    yield "", "", ordinary
    if component.kind == "check-valve" and component.options.get("place") == "pipeline" and yokes_of(circuit, component.gas):
        state = on_cylinders(circuit, ordinary, component.gas)
        yield "in-use", f", while the {gas_name(component.gas)} cylinder is in use", state
    if component.kind in ("apl-valve", "reservoir-bag", "bag-vent-selector"):
        for selector in circuit.of_kind("bag-vent-selector")[:1]:
            state = ordinary.with_settings(selector.code, position="bag")
            yield "on-the-bag", ", while the patient breathes from the bag", state


def _is_behind_a_yoke(circuit: Circuit, component: Component) -> bool:
    """Return whether the component carries only cylinder gas, upstream of the pipeline supply."""
    if not component.gas or component.kind not in ("check-valve", "filter", "pressure-regulator", "gauge"):
        return False
    from_wall = downstream(circuit, [inlet.code for inlet in circuit.of_kind("pipeline-inlet")])
    from_yokes = downstream(circuit, [yoke.code for yoke in circuit.of_kind("cylinder-yoke")])
    return component.code in from_yokes and component.code not in from_wall
