"""Causes at supplies: no gas, too little, or the wrong gas. Basis of likelihoods: common practice, no source."""

from collections.abc import Iterator

from fleet.circuit.cover_rows import Cause, CauseGroup
from fleet.circuit.locations import gases_of
from fleet.circuit.state import Likelihood, State
from fleet.circuit.structure import Circuit, Component
from fleet.circuit.units import to_si
from fleet.circuit.usual_states import gas_name, on_cylinders, ordinary_state, without_pipelines, yokes_of

COMMON, OCCASIONAL, RARE = Likelihood
LOW_PA_GAUGE, SAGGED_PA_GAUGE, HIGH_PA_GAUGE = (to_si(psi, "psi") for psi in (10, 40, 100))
WALL_GASES = ("oxygen", "nitrous-oxide", "air")  # gases with wall outlets in a theatre, from which a hose may come
MUCH_EXTRACT_M3_S = to_si(150, "L/min")


def supply_causes(circuit: Circuit) -> tuple[Cause, ...]:
    """Return the failures of a circuit's supplies and of its waste gas extract."""
    ordinary = ordinary_state(circuit)
    builders = (_pipelines, _all_lost, _crossed, _cylinders, _second_yokes, _extract)
    return tuple(cause for builder in builders for cause in builder(circuit, ordinary))


def _supply(code: str, title: str, state: State, likelihood: Likelihood, prevented_by: tuple[str, ...] = ()) -> Cause:
    return Cause(code, title, CauseGroup.SUPPLY, likelihood, state, prevented_by=prevented_by)


def _inlets(circuit: Circuit) -> list[Component]:
    return sorted(circuit.of_kind("pipeline-inlet"), key=lambda component: (component.gas != "oxygen", component.code))


def _pipelines(circuit: Circuit, ordinary: State) -> Iterator[Cause]:
    for component in _inlets(circuit):
        name = gas_name(component.gas).capitalize()
        off = ordinary.with_settings(component.code, supply_gas="")
        low = ordinary.with_settings(component.code, supply_pressure=LOW_PA_GAUGE)
        high = ordinary.with_settings(component.code, supply_pressure=HIGH_PA_GAUGE)
        yield _supply(f"{component.code}-lost", f"{name} pipeline supply fails", off, OCCASIONAL)
        yield _supply(f"{component.code}-low", f"{name} pipeline pressure falls to 10 psi (69 kPa)", low, OCCASIONAL)
        yield _supply(f"{component.code}-high", f"{name} pipeline pressure rises to 100 psi (689 kPa)", high, RARE)
        for yoke in yokes_of(circuit, component.gas)[:1]:
            sagged = ordinary.with_settings(component.code, supply_pressure=SAGGED_PA_GAUGE)
            yield _supply(
                f"{component.code}-sagged-{yoke.code}-open",
                f"{name} pipeline pressure drops to 40 psi (276 kPa) while the cylinder in {yoke.label} is open",
                sagged.with_settings(yoke.code, is_open=1.0),
                OCCASIONAL,
            )


def _all_lost(circuit: Circuit, ordinary: State) -> Iterator[Cause]:
    if len(_inlets(circuit)) > 1:
        lost = without_pipelines(circuit, ordinary)
        yield _supply("all-pipelines-lost", "All pipeline supplies fail", lost, RARE)


def _crossed(circuit: Circuit, ordinary: State) -> Iterator[Cause]:
    """A hose on the inlet of another gas, which fittings prevent; another gas in the pipeline, which they do not."""
    for component in _inlets(circuit):
        for other in sorted({*WALL_GASES, *gases_of(circuit)} - {component.gas}):
            state = ordinary.with_settings(component.code, supply_gas=other)
            yield _supply(
                f"{component.code}-carries-{other}",
                f"{gas_name(component.gas).capitalize()} pipeline carries {gas_name(other)}",
                state,
                RARE,
            )
            yield from _hoses_swapped(circuit, component, other, state)


def _hoses_swapped(circuit: Circuit, component: Component, other: str, state: State) -> Iterator[Cause]:
    """The hose of another gas on an inlet; if that gas has an inlet too, both are swapped, which is listed once."""
    inlets = _inlets(circuit)
    partners = [inlet for inlet in inlets if inlet.gas == other]
    if any(inlets.index(inlet) < inlets.index(component) for inlet in partners):
        return
    for inlet in partners:
        state = state.with_settings(inlet.code, supply_gas=component.gas)
    title = (
        f"The hoses of {gas_name(component.gas)} and {gas_name(other)} are swapped at the machine"
        if partners
        else f"The hose of {gas_name(other)} is on the inlet of {gas_name(component.gas)}"
    )
    yield _supply(f"{component.code}-hose-of-{other}", title, state, OCCASIONAL, ("pipeline-gas-specific",))


def _cylinders(circuit: Circuit, ordinary: State) -> Iterator[Cause]:
    """Failures of a cylinder in use, with its pipeline disconnected and its valve open."""
    for gas in gases_of(circuit):
        for yoke in yokes_of(circuit, gas)[:1]:
            used = on_cylinders(circuit, ordinary, gas)
            name = gas_name(gas)
            title = f"The {name} cylinder in {yoke.label} is in use, its pipeline is disconnected"
            yield _supply(f"{yoke.code}-in-use", title, used, COMMON)
            empty = used.with_settings(yoke.code, content=0.0)
            yield _supply(
                f"{yoke.code}-empty",
                f"No {name} pipeline, and the cylinder in {yoke.label} is empty",
                empty,
                OCCASIONAL,
            )
            for other in sorted(set(WALL_GASES) - {gas}):
                state = used.with_settings(yoke.code, cylinder_gas=other)
                yield _supply(
                    f"{yoke.code}-holds-{other}",
                    f"A cylinder of {gas_name(other)} is in {yoke.label} and is opened",
                    state,
                    OCCASIONAL,
                    ("pin-index",),
                )
                yield _supply(
                    f"{yoke.code}-filled-with-{other}",
                    f"The {name} cylinder in {yoke.label} was filled with {gas_name(other)} and is opened",
                    state,
                    RARE,
                )


def _second_yokes(circuit: Circuit, ordinary: State) -> Iterator[Cause]:
    """Two yokes of one gas: the second without a cylinder, or with an empty one, while the first is in use."""
    for gas in gases_of(circuit):
        for yoke in yokes_of(circuit, gas):
            used = on_cylinders(circuit, ordinary, gas)
            if yoke.code == yokes_of(circuit, gas)[0].code:
                continue
            bare = used.with_settings(yoke.code, cylinder_gas="", is_open=0.0)
            title = f"{yoke.label} has neither cylinder nor plug while the other one is in use"
            yield _supply(f"{yoke.code}-bare", title, bare, OCCASIONAL)
            both = used.with_settings(yoke.code, content=0.05, is_open=1.0)
            title = f"An almost empty cylinder in {yoke.label} is open together with the full one"
            yield _supply(f"{yoke.code}-almost-empty", title, both, OCCASIONAL)


def _extract(circuit: Circuit, ordinary: State) -> Iterator[Cause]:
    for component in circuit.of_kind("scavenging-interface"):
        off = ordinary.with_settings(component.code, extract_flow=0.0)
        much = ordinary.with_settings(component.code, extract_flow=MUCH_EXTRACT_M3_S)
        yield _supply(f"{component.code}-extract-off", f"No extract at {component.label}", off, COMMON)
        yield _supply(f"{component.code}-extract-strong", f"The extract at {component.label} draws 150 L/min", much, OCCASIONAL)
