"""Machines: the plan of what a file would change in the register, and the import."""

from dataclasses import dataclass
from functools import partial

from django.db import IntegrityError, transaction

from fleet.actions.features import record_feature_state
from fleet.actions.register import Entry, correct_machine, register_machines
from fleet.catalogue import FEATURES
from fleet.errors import RegisterRefused
from fleet.imports.corrections import PlainCorrections
from fleet.imports.last_inspections import INSPECTED, LastInspections, enter_inspections, inspection_changes
from fleet.imports.places import Machines, by_names
from fleet.imports.plan import (
    Addition,
    Change,
    Correction,
    cells_of,
    differences,
    listed,
    needed_problems,
    plan_rows,
    problem,
)
from fleet.imports.serials import Serials
from fleet.imports.staging import AT_ONCE, discard_machines, show_machines, stage_machines
from fleet.models import Evidence, FeatureState, MachineModel, MachineStatus, State

PLAIN_FIELDS = ("serial", "built_year", "in_use_from", "note")
FIRST_YEAR = 1900


def plan_machines(parsed, scope, tell):
    """Compare the rows with the machines that the person may change."""
    register = _Register(parsed.rows, scope)
    return plan_rows(parsed, parsed.rows, partial(_plan_row, register), tell)


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
        self.bare_sites = by_names(scope.sites.filter(areas=None), lambda site: site.code, lambda site: site.name)
        self.site_names = sorted({area.site.name for areas in self.areas.values() for area in areas.values()})
        self.states = self._open_states()
        self.today = scope.today
        self.serials = Serials(scope)
        self.inspected = LastInspections(self.machines.by_asset.values(), scope)

    def _open_states(self):
        states = {}
        found = FeatureState.objects.filter(machine__in=list(self.machines.by_asset.values()), until_date=None)
        for pk, code, state in found.order_by().values_list("machine_id", "feature", "state"):
            states.setdefault(pk, {})[code] = state
        return states


def _plan_row(register, plan, row, told):
    problems = []
    machine = register.machines.of(row, problems)
    if problems:
        plan.problems += problems
        return
    fields = {name: row.values[name] for name in PLAIN_FIELDS if name in row.values}
    fields |= _resolve_model(row, register, problems) | _resolve_area(row, register, machine, problems)
    _check_dates(row, fields, machine, register.today, problems)
    register.serials.check(row, fields, machine, problems)
    features = {code: row.values[code] for code in FEATURES if code in row.values}
    inspected = register.inspected.new_for(row, machine, problems)
    if machine is None:
        problems += needed_problems(row, plan.kind, told | {(found.row, found.column) for found in problems})
        if not problems:
            fields = {"asset_number": row.values["asset_number"], **fields}
            status = row.values.get("duty", MachineStatus.IN_SERVICE)
            extra = {"features": features, "duty": status, INSPECTED: inspected}
            cells = cells_of(row) | _names_of(fields)
            plan.created.append(Addition(row.number, fields["asset_number"], cells, fields, extra))
    else:
        features = _changed_states(register.states.get(machine.pk, {}), features)
        _plan_update(plan, row, machine, fields, {"features": features, INSPECTED: inspected}, problems)
    plan.problems += problems


def _names_of(fields):
    """Return the names of the model and the place that a row means, whatever the file calls them, as far as read."""
    names = {"model": str(fields["model"])} if "model" in fields else {}
    if area := fields.get("area"):
        names |= {"site": str(area.site), "area": area.name}
    return names


def _changed_states(states, features):
    """Return code -> (state now, new state) of the features that the row changes."""
    now = {code: states.get(code, State.NOT_KNOWN) for code in features}
    return {code: (str(now[code]), state) for code, state in features.items() if now[code] != state}


def _plan_update(plan, row, machine, fields, extra, problems):
    status = row.values.get("duty", machine.status)
    if status != machine.status:
        message = f"differs from the present status, {machine.status}."
        accepted = f"{machine.status}, or blank. Change the status on the machine's page, with a reason."
        problems.append(problem(row, "duty", message, accepted))
    fields, changes = differences(machine, fields)
    changes += [Change(code, *states) for code, states in extra["features"].items()]
    changes += inspection_changes(extra[INSPECTED])
    if problems:
        return
    if changes:
        extra = extra | {"features": {code: state for code, (_, state) in extra["features"].items()}}
        plan.updated.append(Correction(row.number, str(machine), machine, tuple(changes), fields, extra))
    else:
        plan.unchanged += 1


def _resolve_model(row, register, problems):
    text = row.values.get("model")
    if text is None:
        return {}
    model = register.models.get(text.casefold())
    if model is None:
        accepted = listed(register.model_names) or "none yet: enter the machine model first."
        problems.append(problem(row, "model", "is not a machine model of the register.", accepted, "name"))
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
            problems.append(_unknown_site(row, site, register))
        return {}
    if name is None:
        return _site_alone(row, here, machine, problems)
    if name.casefold() not in here:
        area = next(iter(here.values()))
        accepted = listed([area.name for area in here.values()])
        problems.append(problem(row, "area", f"is not an area of {area.site}.", accepted, "name", area.site.code))
        return {}
    return {"area": here[name.casefold()]}


def _unknown_site(row, site, register):
    """Return the problem of a site that is not in the register, or that has no area yet."""
    bare = register.bare_sites.get(site.casefold())
    if bare and "area" in row.values:
        return problem(row, "area", f"is not an area of {bare}.", "none yet: enter one first.", "name", bare.code)
    message = "is not a site with an area that you may change."
    accepted = listed(register.site_names) or "none yet: enter one first."
    return problem(row, "site", message, accepted, "name")


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
    enter_inspections(plan, by=by, at=at, source=source)


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
