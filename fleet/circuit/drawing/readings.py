"""Numbers of a solved circuit as picture and words show them: one rounding for both."""

from collections.abc import Sequence

from fleet.catalogue import AGENTS, GASES
from fleet.circuit.drawing.gas_lines import gas_of
from fleet.circuit.drawing.lanes import MIXED
from fleet.circuit.drawing.streams import NOTICED_M3_S
from fleet.circuit.elements.base import Element
from fleet.circuit.gases import AIR_OXYGEN, Mix
from fleet.circuit.parts import Part, Port
from fleet.circuit.seen import Seen
from fleet.circuit.solution import BranchFlow, Solution
from fleet.circuit.units import factor
from fleet.circuit.words import flow_text as neutral_flow_text
from fleet.circuit.words import species_name
from fleet.drawing import number
from fleet.place_format import current, with_decimal_sign

UNITS = {unit: factor(unit) for unit in ("kPa", "psi")}
AIRWAY = "cmH2O"  # what pressures of breathing system and scavenging are given in, whatever the supplies are
SHOWN_SHARE = 0.0005
NOT_RENEWED = "not renewed"
EMPTY_PA = 1000.0  # gauge, below which a supply in which nothing moves holds what the last one left

_AT_OUT = (
    "pipeline-inlet", "cylinder-yoke", "pressure-regulator", "regulator-cutoff", "supply-failure-valve", "vaporizer",
    "measured-flow-vaporizer", "flow-bank", "electronic-mixer", "main-switch",
)  # fmt: skip


def port_shown(part: Part, solution: Solution) -> Port | None:
    """Return the port whose pressure and gas stand for the part: behind what gives or sets, before what is fed."""
    names = ("out", "in") if part.kind in _AT_OUT else ("in", "out")
    for name in (("inspired",) if part.kind == "patient-connection" else ()) + names + ("oxygen-out", "vent"):
        if Port(part.code, name) in solution.pressures_pa_abs:
            return Port(part.code, name)
    return None


def pressure_text(pa_gauge: float, unit: str) -> str:
    """Return a pressure in kPa, psi or cmH2O: whole numbers from 10 on, else one decimal."""
    value = round(pa_gauge / factor(unit), 1)
    return f"{number(value, 0 if abs(value) >= 10 or value == 0 else 1)} {unit}"


def gauge_at(port: Port, solution: Solution) -> float:
    return solution.pressures_pa_abs[port] - solution.circuit.ambient_pa_abs


def main_flow(part: Part, solution: Solution) -> BranchFlow | None:
    """Return the flow that stands for a part: its main way, else the largest of its branches."""
    if (part.code, "through") in solution.flows and part.kind != "electronic-mixer":
        return solution.flows[part.code, "through"]
    own = [flow for flow in solution.flows.values() if flow.part == part.code and not flow.name.startswith("open ")]
    return max(own, key=lambda flow: (abs(flow.value_m3_s), flow.name), default=None)


def passing_m3_s(part: Part, solution: Solution) -> float | None:
    """Return the flow through a part, m3/s, positive the ordinary way; of a mixer, all that leaves it."""
    if part.kind == "electronic-mixer":
        return sum(
            flow.value_m3_s for flow in solution.flows.values() if flow.part == part.code and flow.b.name == "out"
        )
    flow = main_flow(part, solution)
    return None if flow is None else flow.value_m3_s


def flow_text(flow_m3_s: float) -> str:
    """Return a flow as the place that is shown now writes it."""
    return with_decimal_sign(neutral_flow_text(flow_m3_s), current().decimal)


def flow_words(flow_m3_s: float) -> str:
    """Return a flow as a text; what flows back has a minus sign."""
    text = flow_text(flow_m3_s)
    return f"\N{MINUS SIGN}{text}" if flow_m3_s < 0 and not text.startswith("0 ") else text


def shares(mix: Mix) -> Sequence[tuple[str, float]]:
    """Return the species of a mixture that are worth showing: gases by falling share, then vapours."""
    parts = {species: share for species, share in mix.parts.items() if share >= SHOWN_SHARE}
    return sorted(parts.items(), key=lambda item: (item[0] in AGENTS, -item[1], item[0]))


def share_text(share: float) -> str:
    percent = share * 100
    return f"{number(percent, 0 if percent >= 9.95 else 1)} %"


def mix_words(mix: Mix) -> str:
    """Return "oxygen 33 %, nitrous oxide 67 %", or the one name of what is practically pure."""
    gas = gas_of(mix)
    if gas != MIXED:
        return species_name(gas)
    return ", ".join(f"{species_name(species)} {share_text(share)}" for species, share in shares(mix))


def mix_lines(mix: Mix) -> list[str]:
    """Return what matters of a mixture as short lines: oxygen, vapours, and the most of the rest where oxygen lacks."""
    gas = gas_of(mix)
    if gas != MIXED:
        return ["air" if gas == "air" else f"{GASES[gas].formula} {share_text(mix.share(gas))}"]
    oxygen = mix.share("oxygen")
    others = [(species, share) for species, share in shares(mix) if species in GASES and species != "oxygen"]
    shown = [("oxygen", oxygen), *(others[:1] if oxygen < AIR_OXYGEN else []), *sorted(mix.agents.items())]
    named = [(GASES[s].formula if s in GASES else AGENTS[s].name, share) for s, share in shown]
    return [f"{name} {share_text(share)}" for name, share in named if share >= SHOWN_SHARE or name == "O2"]


def breath_words(mix: Mix, solution: Solution) -> str:
    """Return what the gas on its way to the patient is, or that nothing comes to what is breathed."""
    return f"{NOT_RENEWED}: what was there before" if Seen(solution).stands_still else mix_words(mix)


def supply_words(port: Port, passing_m3_s: float | None, solution: Solution) -> str:
    """Return what the gas of a supply part is; empty where none comes: no pressure, and nothing moves."""
    is_empty = abs(passing_m3_s or 0.0) < NOTICED_M3_S and abs(gauge_at(port, solution)) < EMPTY_PA
    return "" if is_empty else mix_words(solution.mixes[port])


def breath_lines(mix: Mix, solution: Solution) -> list[str]:
    """The same as short lines."""
    return [NOT_RENEWED] if Seen(solution).stands_still else mix_lines(mix)


def setting_words(element: Element) -> str:
    """Return what the hand has set on a part, where a picture should say so."""
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
