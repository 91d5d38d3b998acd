"""With the signature the replaced components change the gas circuit: all of them, or nothing is signed."""

from fleet.actions import copy_circuits, replace_component
from fleet.changes import recording
from fleet.circuits.machine_circuit import circuit_of_model
from fleet.errors import ComponentRefused
from fleet.models import CircuitChange, Component, Connection
from fleet.web.at_site import day_words
from inspections.at_bench.repairs import is_of_new_component
from inspections.errors import NotReadyToSign
from inspections.models import InspectionStep, Replacement


def reasons_against_replacing(inspection):
    """Say in one sentence each which entered replacement cannot be carried out any more, and what to do about it."""
    reasons = []
    for replacement in Replacement.objects.of(inspection):
        why = _why_not(replacement)
        if why:
            reasons.append(
                f"{replacement.step}: {replacement} cannot be replaced on machine {inspection.machine}, because {why}. "
                f"Withdraw that entry at this step, and enter the component that is in place now."
            )
    return reasons


def carry_out_replacements(inspection, evaluated, *, by, at):
    """Replace each component in the gas circuit, and make the steps that tested the new one name it.

    Raise NotReadyToSign for one that the circuit does not allow.
    """
    replacements = list(Replacement.objects.of(inspection))
    if not replacements:
        return
    copy_circuits([inspection.machine], by=by, at=at)
    for replacement in replacements:
        try:
            fitted = _replace(replacement, inspection, by=by, at=at)
        except ComponentRefused as error:
            raise NotReadyToSign(
                [f"{replacement.step}: {replacement} cannot be replaced in the gas circuit: {error}"]
            ) from error
        with recording(replacement, by=by, at=at):
            Replacement.objects.filter(pk=replacement.pk).update(fitted=fitted)
        _name_fitted(evaluated, replacement, fitted)


def _why_not(replacement):
    record, machine = replacement.component, replacement.step.inspection.machine
    if record is None:
        return "" if _is_in_circuit(replacement, machine) else "the gas circuit was changed there meanwhile"
    if record.removed_on is None:
        return ""
    change = record.removed_in
    by = f" by {change.by}" if change and change.by else ""
    return f"it was removed on {day_words(record.removed_on)}{by}"


def _is_in_circuit(replacement, machine):
    """Whether a component without a record of its own is still the one that the circuit of the model names."""
    if Connection.objects.filter(machine=machine).exists():
        return _in_place(replacement).filter(fitted_in__verb=CircuitChange.Verb.COPIED).exists()
    circuit = circuit_of_model(machine.model).circuit
    return circuit is not None and replacement.code in {one.code for one in circuit.components}


def _in_place(replacement):
    machine = replacement.step.inspection.machine_id
    return Component.objects.filter(machine=machine, code=replacement.code, removed_on=None)


def _replace(replacement, inspection, *, by, at):
    old, site = replacement.component or _in_place(replacement).get(), inspection.machine.site
    old.refresh_from_db()
    plate = {name: getattr(replacement, f"fitted_{name}") for name in ("serial", "lot", "part_number")}
    return replace_component(
        inspection.machine, old.circuit_code, on=site.date_of(replacement.done_at), by=by, at=at, **plate,
        evidence=f"{inspection}, {replacement.step}"[:300], note=replacement.note,
    )  # fmt: skip


def _name_fitted(evaluated, replacement, fitted):
    """The sets of readings that were taken of the new component name it from now on."""
    for step in evaluated.steps:
        if is_of_new_component(step, evaluated.readings.get(step.pk, []), replacement):
            InspectionStep.objects.filter(pk=step.pk).update(component=fitted)
            step.component = fitted
