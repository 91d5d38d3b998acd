"""Machines: the plan of what a file would change in the register, and the import."""

from dataclasses import dataclass

from django.db import IntegrityError, transaction

from fleet.actions.features import record_feature_state
from fleet.actions.register import Entry, correct_machine, register_machines
from fleet.catalogue import FEATURES
from fleet.errors import RegisterRefused
from fleet.imports.corrections import PlainCorrections
from fleet.imports.places import Machines, by_names
from fleet.imports.plan import (
    Addition,
    Change,
    Correction,
    ImportPlan,
    cells_of,
    differences,
    listed,
    needed_problems,
    problem,
)
from fleet.imports.staging import AT_ONCE, discard_machines, show_machines, stage_machines
from fleet.models import MachineStatus, Evidence, FeatureState, MachineModel, State

PLAIN_FIELDS = ("serial", "built_year", "in_use_from", "note")
FIRST_YEAR = 1900


def plan_machines(parsed, scope, tell):
    """Compare the rows with the machines that the person may change."""
    plan = ImportPlan(parsed.kind, problems=list(parsed.problems))
    register = _Register(parsed.rows, scope)
    told = {(found.row, found.column) for found in plan.problems}
    for done, row in enumerate(parsed.rows):
        if done % 200 == 0:
            tell(done, len(parsed.rows), "Comparing with the register")
        _plan_row(plan, row, register, told)
    plan.problems.sort(key=lambda found: found.row)
    return plan


class _Register:
    def __init__(self, rows, scope):
        self.machines = Machines(rows, scope.machines)
        models = list(MachineModel.objects.prefetch_related("features"))
        self.models = by_names(models, lambda model: model.code, str)
        self.model_names = [f"{model.code} ({model})" for model in models]
        self.areas = {}
        for area in scope.areas.select_related("site"):
            for name in {area.site.code.casefold(), area.site.name.casefold()}:
                self.areas.setdefault(name, {})[area.name.casefold()] = area
        self.site_names = sorted({area.site.name for areas in self.areas.values() for area in areas.values()})
        self.states = self._open_states()
        self.today = scope.today

    def _open_states(self):
        states = {}
        found = FeatureState.objects.filter(machine__in=list(self.machines.by_asset.values()), until_date=None)
        for pk, code, state in found.order_by().values_list("machine_id", "feature", "state"):
            states.setdefault(pk, {})[code] = state
        return states


def _plan_row(plan, row, register, told):
    problems = []
    machine = register.machines.of(row, problems)
    if problems:
        plan.problems += problems
        return
    fields = {name: row.values[name] for name in PLAIN_FIELDS if name in row.values}
    fields |= _resolve_model(row, register, problems) | _resolve_area(row, register, machine, problems)
    _check_dates(row, fields, machine, register.today, problems)
    features = {code: row.values[code] for code in FEATURES if code in row.values}
    if machine is None:
        problems += needed_problems(row, plan.kind, told | {(found.row, found.column) for found in problems})
        if not problems:
            fields = {"asset_number": row.values["asset_number"], **fields}
            extra = {"features": features, "duty": row.values.get("duty", MachineStatus.IN_SERVICE)}
            plan.created.append(Addition(row.number, fields["asset_number"], cells_of(row), fields, extra))
    else:
        _plan_update(plan, row, machine, fields, features, register.states.get(machine.pk, {}), problems)
    plan.problems += problems


def _plan_update(plan, row, machine, fields, features, states, problems):
    status = row.values.get("duty", machine.status)
    if status != machine.status:
        message = f"differs from the present status, {machine.status}."
        accepted = f"{machine.status}, or blank. Change the status on the machine's page, with a reason."
        problems.append(problem(row, "duty", message, accepted))
    fields, changes = differences(machine, fields)
    features = {code: state for code, state in features.items() if states.get(code, State.NOT_KNOWN) != state}
    changes += [Change(code, str(states.get(code, State.NOT_KNOWN.value)), state) for code, state in features.items()]
    if problems:
        return
    if changes:
        plan.updated.append(
            Correction(row.number, str(machine), machine, tuple(changes), fields, {"features": features})
        )
    else:
        plan.unchanged += 1


def _resolve_model(row, register, problems):
    text = row.values.get("model")
    if text is None:
        return {}
    model = register.models.get(text.casefold())
    if model is None:
        accepted = listed(register.model_names) or "none yet: enter the machine model first."
        problems.append(problem(row, "model", "is not a machine model of the register.", accepted))
        return {}
    return {"model": model}


def _resolve_area(row, register, machine, problems):
    site, name = row.values.get("site"), row.values.get("area")
    if site is None and name is None:
        return {}
    if site is None:
        site = machine.site.code if machine else ""
    here = register.areas.get(site.casefold(), {})
    if not here:
        if "site" in row.values:
            message = "is not a site with an area that you may change."
            problems.append(problem(row, "site", message, listed(register.site_names) or "none yet: enter one first."))
        return {}
    if name is None:
        return _site_alone(row, here, machine, problems)
    if name.casefold() not in here:
        area = next(iter(here.values()))
        accepted = listed([area.name for area in here.values()])
        problems.append(problem(row, "area", f"is not an area of {area.site}.", accepted))
        return {}
    return {"area": here[name.casefold()]}


def _site_alone(row, here, machine, problems):
    """Handle a site without an area: no change for a registered machine, a problem for a new one."""
    if machine is not None and machine.area.site_id not in {area.site_id for area in here.values()}:
        message = f"differs from {machine.site}, and the row names no area of that site."
        problems.append(problem(row, "site", message, f"{machine.site}, or an area of the new site as well."))
    return {}


def _check_dates(row, fields, machine, today, problems):
    start = fields.get("in_use_from", machine.in_use_from if machine else None)
    if "in_use_from" in fields and start > today:
        problems.append(problem(row, "in_use_from", "is in the future.", f"a date up to {today}."))
    built = fields.get("built_year")
    latest = min(start, today).year if start else today.year
    if built and not FIRST_YEAR <= built <= latest:
        message = "is later than the first day in use." if built > latest else "is too early."
        problems.append(problem(row, "built_year", message, f"a year from {FIRST_YEAR} to {latest}."))


@dataclass(frozen=True)
class _Details:
    by: object
    at: object
    source: str


def stage_machines_of(plan, *, by, at, source, tell):
    """Prepare a plan outside any transaction and return it for `apply_machines`."""
    corrections = PlainCorrections.of(plan.updated, by=by, at=at)
    if len(plan.created) <= AT_ONCE:
        return Prepared("", corrections)
    entries = _entries(plan, source)
    name = stage_machines(entries, by=by, at=at, source=source, tell=tell, total=len(entries) + len(plan.updated))
    return Prepared(name, corrections)


@dataclass(frozen=True)
class Prepared:
    """The name of the staging of new machines, empty if there is none, and the corrections that are computed."""

    staging: str
    corrections: PlainCorrections

    def discard(self):
        if self.staging:
            discard_machines(self.staging)


def _entries(plan, source):
    reason = f"Entered in the register from {source}"[:280]
    return [Entry(new.fields, new.extra["features"], new.extra["duty"], reason) for new in plan.created]


def apply_machines(plan, *, by, at, source, tell, prepared):
    """Create and correct the machines of a plan within the caller's transaction."""
    if prepared.staging:
        show_machines(prepared.staging)
    else:
        _enter(plan, by=by, at=at, source=source)
    prepared.corrections.carry_out()
    entered, others = len(plan.created), prepared.corrections.others
    total = entered + len(others)
    for done, update in enumerate(others, start=entered):
        if done % 20 == 0:
            tell(done, total, "Correcting machines")
        _correct(update, _Details(by, at, source))


def _enter(plan, *, by, at, source):
    try:
        with transaction.atomic():
            register_machines(_entries(plan, source), by=by, at=at)
    except IntegrityError:
        raise RegisterRefused(
            f"Nothing was imported from {source}: one of its machines was entered after the preview. "
            "Open the preview again."
        ) from None


def _correct(update, details):
    machine = update.record
    if update.fields:
        machine = correct_machine(machine, by=details.by, at=details.at, **update.fields)
    today = machine.site.date_of(details.at)
    for code, state in update.extra["features"].items():
        record_feature_state(
            machine,
            code,
            state,
            from_date=today,
            evidence=Evidence.REGISTER,
            by=details.by,
            at=details.at,
            note=f"Imported from {details.source}"[:300],
        )
