"""The state of a circuit in sentences: for the head of the picture, its title, and screen readers."""

from fleet.circuit.drawing.solved_numbers import AIRWAY, breath_words, flow_text, gauge_at, mix_words, pressure_text
from fleet.circuit.locations import outlet_of, patient_of
from fleet.circuit.solution import Solution
from fleet.circuit.structure import Circuit, Port


def title_of(circuit: Circuit, solution: Solution | None) -> str:
    """Return "Title: state, failures"."""
    if solution is None:
        return f"{circuit.title}: gas circuit"
    faults = [f"{circuit.component(fault.component).label} {fault.mode}" for fault in solution.faults]
    return f"{circuit.title}: {', '.join([solution.state.title, *faults])}"


def reaches_patient(solution: Solution, units: str) -> str:
    """Return the outlet flow and the patient's gas, one sentence each."""
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
    return " ".join(sentences) or "No gas reaches an outlet."


def alarms_of(solution: Solution) -> tuple[str, ...]:
    """Return the messages of alarms and monitors of the machine."""
    return tuple(told.words for told in solution.told if told.feature)
