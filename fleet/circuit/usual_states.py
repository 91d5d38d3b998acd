"""States of use: the ordinary state of a circuit, and the states that can be chosen on a page."""

from collections.abc import Mapping

from fleet.catalogue import AGENTS, GASES
from fleet.circuit.locations import connects, gases_of, outlet_of
from fleet.circuit.state import Settings, State
from fleet.circuit.structure import Circuit, Component
from fleet.circuit.units import to_si

PIPELINE_PA_GAUGE = to_si(50, "psi")
OXYGEN_M3_S, NITROUS_OXIDE_M3_S, AIR_M3_S = (to_si(flow, "L/min") for flow in (2, 4, 2))
VENTILATION_M3_S = to_si(5, "L/min")
APL_PA_GAUGE = to_si(5, "cmH2O")
HIGHEST_APL_PA_GAUGE = to_si(70, "cmH2O")
EXTRACT_M3_S = to_si(30, "L/min")
SHARE_OF_DIAL = 1 / 3  # of the first vaporizer in ordinary use. Source: common practice, no source
HIGHEST_ORDINARY_MAC = 1.3  # on old vaporizers with a wide range a third of the dial is higher than any usual setting


def ordinary_state(circuit: Circuit) -> State:
    """Return the ordinary use of the machine. Basis: common practice, no source.

    Pipelines at their rated pressure or 50 psi, cylinders full and shut (open if the gas has no pipeline), oxygen
    2 L/min with nitrous oxide 4 L/min, else air 2 L/min, the first vaporizer at a third of its dial but at most
    1.3 MAC, ventilation 5 L/min by the ventilator if there is one, the APL valve partly open, the extract on.
    """
    settings: dict[str, Settings] = {}
    for component in circuit.components:
        if found := _SETTINGS.get(component.kind, _nothing)(circuit, component):
            settings[component.code] = found
    return State("ordinary", "Ordinary use", settings)


def states_to_show(circuit: Circuit) -> tuple[State, ...]:
    """Return the states that can be chosen: ordinary use first, then the other settings of this machine."""
    ordinary = ordinary_state(circuit)
    states = [ordinary]
    for gas in gases_of(circuit):
        states += _supply_states(circuit, ordinary, gas)
    if circuit.of_kind("pipeline-inlet"):
        states.append(_titled(without_pipelines(circuit, ordinary), "pipelines-off", "All pipelines disconnected"))
    states += _control_states(circuit, ordinary)
    states += [
        _titled(changed, f"{component.code}-pressed", f"{component.label} held open")
        for component in circuit.of_kind("flush-valve")
        for changed in [ordinary.with_settings(component.code, pressed=1.0)]
    ]
    states += _breathing_states(circuit, ordinary)
    return tuple({state.code: state for state in states}.values())


def gas_name(gas: str) -> str:
    """Return the name of a gas for use within a sentence."""
    return GASES[gas].name.lower() if gas in GASES else gas.replace("-", " ")


def without_pipelines(circuit: Circuit, state: State, gas: str = "") -> State:
    """Return the state with the pipelines of one gas, or of all, disconnected from their inlets."""
    for component in circuit.of_kind("pipeline-inlet"):
        if not gas or component.gas == gas:
            state = state.with_settings(component.code, supply_gas="")
    return state


def on_cylinders(circuit: Circuit, state: State, gas: str) -> State:
    """Return the state with the pipelines of a gas disconnected and its first cylinder open."""
    state = without_pipelines(circuit, state, gas)
    for component in yokes_of(circuit, gas)[:1]:
        state = state.with_settings(component.code, is_open=1.0)
    return state


def yokes_of(circuit: Circuit, gas: str) -> list[Component]:
    """Return the yokes of a gas in the order of their codes."""
    return sorted((component for component in circuit.of_kind("cylinder-yoke") if component.gas == gas), key=lambda component: component.code)


def set_flow(circuit: Circuit, state: State, gas: str, flow: float) -> State:
    """Return the state with the first control of a gas at this flow, m3/s, whichever component it is."""
    for component in controls_of(circuit, gas)[:1]:
        state = state.with_settings(component.code, set_flow=flow)
    for component in circuit.of_kind("electronic-mixer"):
        if f"{gas}-in" in _joined_ports(circuit, component):
            state = state.with_settings(component.code, **{f"{gas.replace('-', '_')}_flow": flow})
    return state


def only(circuit: Circuit, state: State, gas: str) -> State:
    """Return the state with one gas besides oxygen on, at 4 L/min, and the others shut."""
    for other in controlled_gases(circuit)[1:]:
        state = set_flow(circuit, state, other, NITROUS_OXIDE_M3_S if other == gas else 0.0)
    return state


def controls_of(circuit: Circuit, gas: str) -> list[Component]:
    """Return the flow controls of a gas that lead to the outlet, in the order of their codes."""
    return sorted((component for component in circuit.of_kind("flow-control") if component.gas == gas), key=lambda component: component.code)


def controlled_gases(circuit: Circuit) -> tuple[str, ...]:
    """Return the gases that a flow control or a mixer meters, oxygen first."""
    gases = {component.gas for component in circuit.of_kind("flow-control")}
    for component in circuit.of_kind("electronic-mixer"):
        gases |= {name.removesuffix("-in") for name in _joined_ports(circuit, component) if name.endswith("-in")}
    return tuple(sorted(gases, key=lambda gas: (gas != "oxygen", gas)))


def agent_of(component: Component) -> str:
    """Return the agent of a vaporizer; empty where none is named."""
    return component.options.get("agent", "")


def highest_dial(component: Component) -> float:
    """Return the highest setting of a vaporizer's dial, a fraction."""
    agent = AGENTS.get(agent_of(component))
    return component.values.get("highest_output", agent.highest_dial if agent else to_si(5, "%"))


def ordinary_dial(component: Component) -> float:
    """Return a third of a vaporizer's dial, or 1.3 MAC where that is less."""
    agent = AGENTS.get(agent_of(component))
    dial = highest_dial(component) * SHARE_OF_DIAL
    return min(dial, HIGHEST_ORDINARY_MAC * agent.mac) if agent else dial


def vaporizers_of(circuit: Circuit) -> list[Component]:
    """Return the vaporizers with a dial, in the order of their codes."""
    return sorted(circuit.of_kind("vaporizer"), key=lambda component: component.code)


def _titled(state: State, code: str, title: str) -> State:
    return State(code, title, state.settings, state.cut, state.made)


def _joined_ports(circuit: Circuit, component: Component) -> set[str]:
    ports = [port for connection in circuit.connections for port in (connection.source, connection.target)]
    return {port.name for port in ports if port.component == component.code}


def _supply_states(circuit: Circuit, ordinary: State, gas: str) -> list[State]:
    name, found = gas_name(gas), []
    if any(component.gas == gas for component in circuit.of_kind("pipeline-inlet")):
        off = without_pipelines(circuit, ordinary, gas)
        found.append(_titled(off, f"{gas}-pipeline-off", f"{name.capitalize()} pipeline disconnected"))
        if yokes_of(circuit, gas):
            reserve = on_cylinders(circuit, ordinary, gas)
            found.append(
                _titled(reserve, f"{gas}-cylinder", f"{name.capitalize()} cylinder in use, pipeline disconnected")
            )
    return found


def _control_states(circuit: Circuit, ordinary: State) -> list[State]:
    found = []
    for gas in controlled_gases(circuit)[1:]:
        state = set_flow(circuit, only(circuit, ordinary, gas), "oxygen", 0.0)
        title = f"Oxygen control shut with {gas_name(gas)} on"
        found.append(_titled(state, f"oxygen-shut-{gas}-on", title))
    dials = vaporizers_of(circuit)
    if len(dials) > 1:
        state = ordinary.with_settings(dials[1].code, dial=ordinary_dial(dials[1]))
        found.append(_titled(state, "two-dials-on", "Two vaporizers on"))
    return found


def _breathing_states(circuit: Circuit, ordinary: State) -> list[State]:
    found = []
    for component in circuit.of_kind("bag-vent-selector")[:1]:
        state = ordinary.with_settings(component.code, position="bag")
        found.append(_titled(state, "on-the-bag", "Ventilation by the bag"))
    for component in circuit.of_kind("apl-valve")[:1]:
        state = ordinary.with_settings(component.code, set_pressure=highest_apl(component))
        found.append(_titled(state, "apl-shut", f"{component.label} shut"))
    outlet = outlet_of(circuit)
    for connection in circuit.connections:
        if outlet and connection.source.component == outlet.code:
            state = State("outlet-hose-off", "Hose disconnected from the outlet", ordinary.settings, frozenset({connection}))
            found.append(state)
    return found


def highest_apl(component: Component) -> float:
    """Return the highest setting of an APL valve, Pa gauge."""
    return component.values.get("highest_pressure", HIGHEST_APL_PA_GAUGE)


def _nothing(circuit: Circuit, component: Component) -> Settings:
    return {}


def _pipeline(circuit: Circuit, component: Component) -> Settings:
    return {"supply_gas": component.gas, "supply_pressure": component.values.get("pipeline_pressure", PIPELINE_PA_GAUGE)}


def _yoke(circuit: Circuit, component: Component) -> Settings:
    has_pipeline = any(inlet.gas == component.gas for inlet in circuit.of_kind("pipeline-inlet"))
    first = yokes_of(circuit, component.gas)[0].code == component.code
    return {"cylinder_gas": component.gas, "content": 1.0, "is_open": 0.0 if has_pipeline or not first else 1.0}


def _flow_for(circuit: Circuit, gas: str) -> float:
    gases = controlled_gases(circuit)
    if gas == "oxygen":
        return OXYGEN_M3_S
    if gas == "nitrous-oxide":
        return NITROUS_OXIDE_M3_S
    return AIR_M3_S if gas == "air" and "nitrous-oxide" not in gases else 0.0


def _flow_control(circuit: Circuit, component: Component) -> Settings:
    first = controls_of(circuit, component.gas)[0].code == component.code
    return {"set_flow": _flow_for(circuit, component.gas) if first else 0.0}


def _mixer(circuit: Circuit, component: Component) -> Settings:
    joined = _joined_ports(circuit, component)
    gases = ("oxygen", "nitrous-oxide", "air")
    return {f"{gas.replace('-', '_')}_flow": _flow_for(circuit, gas) if f"{gas}-in" in joined else 0.0 for gas in gases}


def _vaporizer(circuit: Circuit, component: Component) -> Settings:
    first = vaporizers_of(circuit)[0].code == component.code
    return {"dial": ordinary_dial(component) if first else 0.0}


def _measured_flow(circuit: Circuit, component: Component) -> Settings:
    """Oxygen through the liquid: none if there is a vaporizer with a dial, else the flow for 1.3 MAC in total."""
    agent = AGENTS.get(agent_of(component))
    if circuit.of_kind("vaporizer") or agent is None:
        return {"set_flow": 0.0}
    carrier = sum(_flow_for(circuit, gas) for gas in controlled_gases(circuit))
    saturated = agent.vapour_pressure_pa_abs / circuit.ambient_pa_abs
    wanted = HIGHEST_ORDINARY_MAC * agent.mac
    taken = saturated / (1 - saturated)
    return {"set_flow": wanted * carrier / (taken - wanted * (1 + taken))}


def _selector(circuit: Circuit, component: Component) -> Settings:
    return {"position": "ventilator" if connects(circuit, "ventilator") else "bag"}


_SETTINGS: Mapping = {
    "pipeline-inlet": _pipeline,
    "cylinder-yoke": _yoke,
    "flow-control": _flow_control,
    "electronic-mixer": _mixer,
    "vaporizer": _vaporizer,
    "measured-flow-vaporizer": _measured_flow,
    "flush-valve": lambda circuit, component: {"pressed": 0.0},
    "main-switch": lambda circuit, component: {"on": 1.0},
    "apl-valve": lambda circuit, component: {"set_pressure": APL_PA_GAUGE},
    "bag-vent-selector": _selector,
    "patient-connection": lambda circuit, component: {"ventilation": VENTILATION_M3_S},
    "scavenging-interface": lambda circuit, component: {"extract_flow": component.values.get("extract_flow", EXTRACT_M3_S)},
}
