"""Causes from use of a sound machine. Basis of likelihoods: common practice, no source."""

from collections.abc import Iterator
from itertools import combinations

from fleet.circuit.cover_rows import Cause, CauseGroup
from fleet.circuit.state import Likelihood, State
from fleet.circuit.structure import Circuit
from fleet.circuit.units import to_si
from fleet.circuit.usual_states import (
    controlled_gases,
    controls_of,
    gas_name,
    highest_apl,
    highest_dial,
    only,
    ordinary_dial,
    ordinary_state,
    set_flow,
    vaporizers_of,
    yokes_of,
)

COMMON, OCCASIONAL, RARE = Likelihood
ON_M3_S = to_si(4, "L/min")
TOO_MUCH_M3_S, TOO_LITTLE_M3_S = to_si(8, "L/min"), to_si(1, "L/min")


def use_causes(circuit: Circuit) -> tuple[Cause, ...]:
    """Return ordinary use, and the hazardous ways to use this machine."""
    ordinary = ordinary_state(circuit)
    builders = (_controls, _second_controls, _dials, _measured_flow, _flush, _spill_valve, _switch, _reserve)
    return (
        _use("ordinary-use", "Ordinary use of the machine", ordinary, COMMON),
        *(cause for builder in builders for cause in builder(circuit, ordinary)),
    )


def _use(code: str, title: str, state: State, likelihood: Likelihood, prevented_by: tuple[str, ...] = ()) -> Cause:
    return Cause(code, title, CauseGroup.USE, likelihood, state, prevented_by=prevented_by)


def _controls(circuit: Circuit, ordinary: State) -> Iterator[Cause]:
    """Oxygen control shut while another gas is on: on purpose, by a slip, by contact; and too much of the other gas."""
    for gas in controlled_gases(circuit)[1:]:
        name = gas_name(gas)
        on = only(circuit, ordinary, gas)
        shut = set_flow(circuit, on, "oxygen", 0.0)
        yield _use(f"oxygen-shut-{gas}-on", f"The oxygen control is shut while {name} is on", shut, OCCASIONAL)
        yield _use(
            f"oxygen-shut-by-a-slip-{gas}-on",
            f"The oxygen control is shut by mistake for another control while {name} is on",
            shut,
            OCCASIONAL,
            ("o2-control-profile",),
        )
        yield _use(
            f"oxygen-shut-by-a-sleeve-{gas}-on",
            f"A sleeve or a chart turns the oxygen control shut while {name} is on",
            shut,
            OCCASIONAL,
            ("control-guard",),
        )
        if gas != "air":
            much = set_flow(circuit, set_flow(circuit, on, gas, TOO_MUCH_M3_S), "oxygen", TOO_LITTLE_M3_S)
            yield _use(f"too-much-{gas}", f"{name.capitalize()} is set to 8 L/min with 1 L/min of oxygen", much, COMMON)


def _second_controls(circuit: Circuit, ordinary: State) -> Iterator[Cause]:
    for gas in controlled_gases(circuit):
        for component in controls_of(circuit, gas)[1:]:
            state = ordinary.with_settings(component.code, set_flow=ON_M3_S)
            title = f"The second control of {gas_name(gas)}, {component.label}, was left open"
            yield _use(f"second-control-{component.code}", title, state, OCCASIONAL)


def _dials(circuit: Circuit, ordinary: State) -> Iterator[Cause]:
    dials = vaporizers_of(circuit)
    for one, other in combinations(dials, 2):
        state = ordinary.with_settings(dials[0].code, dial=0.0)
        state = state.with_settings(one.code, dial=ordinary_dial(one))
        state = state.with_settings(other.code, dial=ordinary_dial(other))
        title = f"{one.label} and {other.label} are on together"
        yield _use(f"two-dials-{one.code}-{other.code}", title, state, OCCASIONAL)
    for component in dials[:1]:
        highest = ordinary.with_settings(component.code, dial=highest_dial(component))
        off = ordinary.with_settings(component.code, dial=0.0)
        yield _use("dial-at-its-highest", f"{component.label} is set to the end of its dial", highest, OCCASIONAL)
        yield _use(
            "dial-turned-the-wrong-way",
            f"{component.label} is turned up instead of down",
            highest,
            OCCASIONAL,
            ("dial-anticlockwise",),
        )
        yield _use("dial-off", f"{component.label} is left off", off, COMMON)


def _measured_flow(circuit: Circuit, ordinary: State) -> Iterator[Cause]:
    """Vapour from measured oxygen with too little diluting gas, or none."""
    for component in circuit.of_kind("measured-flow-vaporizer"):
        on = ordinary.with_settings(component.code, set_flow=to_si(0.5, "L/min"))
        yield _use(
            f"{component.code}-flow-too-high",
            f"The oxygen through {component.label} is set to 500 mL/min",
            on,
            OCCASIONAL,
        )
        for gas in controlled_gases(circuit):
            on = set_flow(circuit, on, gas, 0.0)
        yield _use(
            f"{component.code}-without-other-gas",
            f"Oxygen flows through {component.label} while the diluting gases are shut",
            on,
            OCCASIONAL,
        )


def _flush(circuit: Circuit, ordinary: State) -> Iterator[Cause]:
    for component in circuit.of_kind("flush-valve"):
        state = ordinary.with_settings(component.code, pressed=1.0)
        yield _use(f"{component.code}-held", f"{component.label} is held open by hand", state, COMMON)
        title = f"An object presses on {component.label} and keeps it open"
        yield _use(f"{component.code}-leant-on", title, state, OCCASIONAL, ("flush-guard",))


def _spill_valve(circuit: Circuit, ordinary: State) -> Iterator[Cause]:
    for component in circuit.of_kind("apl-valve"):
        state = ordinary.with_settings(component.code, set_pressure=highest_apl(component))
        selectors = circuit.of_kind("bag-vent-selector")
        for selector in selectors:
            title = f"{component.label} is shut while the ventilator is on"
            yield _use(f"{component.code}-shut-on-{selector.code}", title, state, COMMON)
        bag = state
        for selector in selectors:
            bag = bag.with_settings(selector.code, position="bag")
        yield _use(f"{component.code}-shut", f"{component.label} is shut while the patient breathes from the bag", bag, COMMON)
        if selectors:
            on_bag = bag.with_settings(component.code, **ordinary.of(component.code))
            yield _use("on-the-bag", "The patient breathes from the bag", on_bag, COMMON)


def _switch(circuit: Circuit, ordinary: State) -> Iterator[Cause]:
    for component in circuit.of_kind("main-switch"):
        state = ordinary.with_settings(component.code, on=0.0)
        yield _use(f"{component.code}-off", f"{component.label} is switched off", state, OCCASIONAL)


def _reserve(circuit: Circuit, ordinary: State) -> Iterator[Cause]:
    """The reserve cylinder is left open: without effect while pipeline pressure is above its regulator's output."""
    for component in circuit.of_kind("cylinder-yoke"):
        if component.code == yokes_of(circuit, component.gas)[0].code:
            state = ordinary.with_settings(component.code, is_open=1.0)
            title = f"The cylinder in {component.label} is left open with the pipeline connected"
            yield _use(f"{component.code}-left-open", title, state, COMMON)
