"""The state of a circuit in sentences: for the head of the picture, its title, and whoever hears it read."""

from fleet.circuit.drawing.readings import AIRWAY, breath_words, flow_text, gauge_at, mix_words, pressure_text
from fleet.circuit.parts import Circuit, Port
from fleet.circuit.places import outlet_of, patient_of
from fleet.circuit.solution import Solution


def title_of(circuit: Circuit, solution: Solution | None) -> str:
    """Return "Title: state, with what has failed"."""
    if solution is None:
        return f"{circuit.title}: gas circuit"
    faults = [f"{circuit.part(fault.part).label} {fault.mode}" for fault in solution.faults]
    return f"{circuit.title}: {', '.join([solution.state.title, *faults])}"


def reaches_patient(solution: Solution, units: str) -> str:
    """Return what leaves the outlet and what the patient breathes, one sentence each."""
    circuit, sentences = solution.circuit, []
    outlet, patient = outlet_of(circuit), patient_of(circuit)
    if outlet and (outlet.code, "through") in solution.flows:
        flow = solution.flow(outlet.code)
        pressure = pressure_text(gauge_at(Port(outlet.code, "in"), solution), units)
        gas = f" of {mix_words(flow.mix)}" if not flow_text(flow.value_m3_s).startswith("0 ") else ""
        sentences.append(f"{outlet.label}: {flow_text(flow.value_m3_s)}{gas}, {pressure}.")
    if patient:
        port = Port(patient.code, "inspired")
        port = port if port in solution.pressures_pa_abs else Port(patient.code, "in")
        pressure = pressure_text(gauge_at(port, solution), AIRWAY)
        sentences.append(f"{patient.label}: {breath_words(solution.mixes[port], solution)}, {pressure}.")
    return " ".join(sentences) or "Nothing reaches an outlet."


def alarms_of(solution: Solution) -> tuple[str, ...]:
    """Return what alarms and monitors of the machine tell."""
    return tuple(told.words for told in solution.told if told.feature)
