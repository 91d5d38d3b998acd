"""Which steps of a procedure apply to a machine on a day, and why the others do not."""

from dataclasses import dataclass

from fleet.catalogue import COMPONENT_KINDS, GASES, get_feature
from fleet.models import FeatureState, State
from fleet.place_format import day_text
from inspections.errors import ProcedureError
from inspections.models import InspectionStep, ProcedureVersion


@dataclass(frozen=True, slots=True)
class Steps:
    version: ProcedureVersion
    rows: list[InspectionStep]


@dataclass(frozen=True, slots=True)
class MachineOnDay:
    """What decides which steps apply: gases, feature states by code, components in place."""

    gases: tuple[str, ...]
    features: dict[str, FeatureState]
    components: list


def build_steps(inspection, *, on):
    """Lay out the steps of the current version for the inspection's machine on the date `on`; not saved yet."""
    version = inspection.procedure.current_version()
    if version is None:
        raise ProcedureError(f"No version of “{inspection.procedure}” is loaded. Run: manage.py load_procedures")
    machine = machine_on_day(inspection.machine, on)
    rows = []
    for content in version.content["step"]:
        rows.extend(_rows_of(inspection, content, machine))
    rows.extend(_retest_rows(inspection, {row.what for row in rows if row.applies}, machine))
    for position, row in enumerate(rows, start=1):
        row.position = position
    return Steps(version, rows)


def machine_on_day(machine, on):
    """Read from the register what decides which steps apply."""
    return MachineOnDay(
        gases=tuple(machine.model.gases),
        features={state.feature: state for state in machine.feature_states.on(on)},
        components=list(machine.components.on(on)),
    )


def _rows_of(inspection, content, machine):
    absence = _missing_feature(content, machine) or _missing_gas(content, machine)
    if absence:
        return [_row(inspection, content, absence=absence)]
    if "component" in content:
        return _component_rows(inspection, content, machine)
    if content.get("each") == "other gas":
        return [_row(inspection, content, subject=gas) for gas in machine.gases if gas != "oxygen"]
    return [_row(inspection, content, subject=content.get("gas", ""))]


def _component_rows(inspection, content, machine):
    components = [component for component in machine.components if component.kind == content["component"]]
    if not components:
        kind = COMPONENT_KINDS[content["component"]].name.lower()
        return [_row(inspection, content, absence=f"No {kind} is recorded on this machine.")]
    return [_row(inspection, content, subject=component.label, component=component) for component in components]


def _missing_feature(content, machine):
    code = content.get("feature")
    if not code:
        return ""
    state = machine.features.get(code)
    if state is None or state.state != State.NOT_FITTED:
        return ""
    since = day_text(state.from_date)  # stored, so it is the same at every site
    return f"{get_feature(code).name}: not fitted, since {since} ({state.get_evidence_display().lower()})."


def _missing_gas(content, machine):
    if content.get("each") == "other gas" and set(machine.gases) <= {"oxygen"}:
        return "The machine gives oxygen only."
    wanted = content.get("gas")
    return f"The machine does not give {GASES[wanted].name.lower()}." if wanted and wanted not in machine.gases else ""


def _row(inspection, content, *, subject="", component=None, absence=""):
    return InspectionStep(
        inspection=inspection,
        code=content["code"],
        title=content["title"],
        test_code=content["test"],
        subject=subject,
        component=component,
        is_essential=content.get("essential", False),
        content=content,
        applies=not absence,
        absence=absence,
    )


def _retest_rows(inspection, covered, machine):
    """The steps that an inspection retests, failed or not tested, and that its own procedure does not bring."""
    rows = []
    for finding in inspection.retests.select_related("result__step__component", "step__component"):
        failed = finding.repeated_step
        if failed and failed.what not in covered:
            covered.add(failed.what)
            retest = {**failed.content, "code": f"retest-{finding.pk}"}
            absence = _missing_feature(retest, machine)
            rows.append(_row(inspection, retest, subject=failed.subject, component=failed.component, absence=absence))
    return rows
