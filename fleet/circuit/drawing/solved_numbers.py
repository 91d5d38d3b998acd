"""Readings of a solved circuit for picture and text, with the same rounding."""

from collections.abc import Sequence

from fleet.catalogue import AGENTS, GASES
from fleet.circuit.drawing.gas_lines import gas_of
from fleet.circuit.drawing.lanes import MIXED
from fleet.circuit.drawing.streams import NOTICED_M3_S
from fleet.circuit.effects import Seen
from fleet.circuit.elements.base import Element
from fleet.circuit.gases import AIR_OXYGEN, Mix
from fleet.circuit.quantity_words import flow_text as neutral_flow_text
from fleet.circuit.quantity_words import species_name
from fleet.circuit.solution import BranchFlow, Solution
from fleet.circuit.structure import Component, Port
from fleet.circuit.units import factor
from fleet.drawing import number
from fleet.place_format import current, with_decimal_sign

UNITS = {unit: factor(unit) for unit in ("kPa", "psi")}
AIRWAY = "cmH2O"  # unit of pressures in breathing system and scavenging, whatever the unit of the supplies
SHOWN_SHARE = 0.0005
NOT_RENEWED = "not renewed"
EMPTY_PA = 1000.0  # gauge, below which a supply without flow holds the rest of an earlier supply

_AT_OUT = (
    "pipeline-inlet", "cylinder-yoke", "pressure-regulator", "regulator-cutoff", "supply-failure-valve", "vaporizer",
    "measured-flow-vaporizer", "flow-bank", "electronic-mixer", "main-switch",
)  # fmt: skip


def port_shown(component: Component, solution: Solution) -> Port | None:
    """Return the port whose pressure and gas represent the component: outlet of sources, inlet of consumers."""
    names = ("out", "in") if component.kind in _AT_OUT else ("in", "out")
    for name in (("inspired",) if component.kind == "patient-connection" else ()) + names + ("oxygen-out", "vent"):
        if Port(component.code, name) in solution.pressures_pa_abs:
            return Port(component.code, name)
    return None


def pressure_text(pa_gauge: float, unit: str) -> str:
    """Return a pressure in kPa, psi or cmH2O: a whole number from 10 on, else one decimal."""
    value = round(pa_gauge / factor(unit), 1)
    return f"{number(value, 0 if abs(value) >= 10 or value == 0 else 1)} {unit}"


def gauge_at(port: Port, solution: Solution) -> float:
    return solution.pressures_pa_abs[port] - solution.circuit.ambient_pa_abs


def main_flow(component: Component, solution: Solution) -> BranchFlow | None:
    """Return the flow that represents a component: its main branch, else the largest of its branches."""
    if (component.code, "through") in solution.flows and component.kind != "electronic-mixer":
        return solution.flows[component.code, "through"]
    own = [flow for flow in solution.flows.values() if flow.component == component.code and not flow.name.startswith("open ")]
    return max(own, key=lambda flow: (abs(flow.value_m3_s), flow.name), default=None)


def passing_m3_s(component: Component, solution: Solution) -> float | None:
    """Return the flow through a component, m3/s, positive in the ordinary direction; of a mixer, its whole output."""
    if component.kind == "electronic-mixer":
        return sum(
            flow.value_m3_s for flow in solution.flows.values() if flow.component == component.code and flow.b.name == "out"
        )
    flow = main_flow(component, solution)
    return None if flow is None else flow.value_m3_s


def flow_text(flow_m3_s: float) -> str:
    """Return a flow as the place that is shown now writes it."""
    return with_decimal_sign(neutral_flow_text(flow_m3_s), current().decimal)


def flow_words(flow_m3_s: float) -> str:
    """Return a flow as text; back flow has a minus sign."""
    text = flow_text(flow_m3_s)
    return f"\N{MINUS SIGN}{text}" if flow_m3_s < 0 and not text.startswith("0 ") else text


def shares(mix: Mix) -> Sequence[tuple[str, float]]:
    """Return the species of a mixture to show: gases by falling fraction, then vapours."""
    components = {species: share for species, share in mix.shares.items() if share >= SHOWN_SHARE}
    return sorted(components.items(), key=lambda item: (item[0] in AGENTS, -item[1], item[0]))


def share_text(share: float) -> str:
    percent = share * 100
    return f"{number(percent, 0 if percent >= 9.95 else 1)} %"


def mix_words(mix: Mix) -> str:
    """Return "oxygen 33 %, nitrous oxide 67 %", or the name alone of a practically pure gas."""
    gas = gas_of(mix)
    if gas != MIXED:
        return species_name(gas)
    return ", ".join(f"{species_name(species)} {share_text(share)}" for species, share in shares(mix))


def mix_lines(mix: Mix) -> list[str]:
    """Return the main species of a mixture as short lines: oxygen, vapours, and if oxygen is low the largest other."""
    gas = gas_of(mix)
    if gas != MIXED:
        return ["air" if gas == "air" else f"{GASES[gas].formula} {share_text(mix.share(gas))}"]
    oxygen = mix.share("oxygen")
    others = [(species, share) for species, share in shares(mix) if species in GASES and species != "oxygen"]
    shown = [("oxygen", oxygen), *(others[:1] if oxygen < AIR_OXYGEN else []), *sorted(mix.agents.items())]
    named = [(GASES[s].formula if s in GASES else AGENTS[s].name, share) for s, share in shown]
    return [f"{name} {share_text(share)}" for name, share in named if share >= SHOWN_SHARE or name == "O2"]


def breath_words(mix: Mix, solution: Solution) -> str:
    """Return the gas on its way to the patient, or that it is not renewed."""
    return f"{NOT_RENEWED}: the previous gas" if Seen(solution).stands_still else mix_words(mix)


def supply_words(port: Port, passing_m3_s: float | None, solution: Solution) -> str:
    """Return the gas of a supply component; empty without supply, that is without pressure and flow."""
    is_empty = abs(passing_m3_s or 0.0) < NOTICED_M3_S and abs(gauge_at(port, solution)) < EMPTY_PA
    return "" if is_empty else mix_words(solution.mixes[port])


def breath_lines(mix: Mix, solution: Solution) -> list[str]:
    """Return the same as short lines."""
    return [NOT_RENEWED] if Seen(solution).stands_still else mix_lines(mix)


def setting_words(element: Element) -> str:
    """Return the setting of a component, if the picture should show it."""
    match element.kind:
        case "vaporizer":
            dial = float(element.setting("dial"))
            return f"dial {share_text(dial)}" if dial > 0 else "dial off"
        case "bag-vent-selector":
            return f"to {element.setting('position')}"
        case "flush-valve":
            return "held" if float(element.setting("pressed")) else ""
        case "apl-valve":
            return f"set {pressure_text(float(element.setting('set_pressure')), AIRWAY)}"
    return ""
