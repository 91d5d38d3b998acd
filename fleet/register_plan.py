"""What a register file would change, worked out without changing anything."""

import hashlib
import json
from dataclasses import dataclass, field

from fleet.catalogue import FEATURES
from fleet.models import Duty, FeatureState, Machine, MachineModel, State
from fleet.register_file import ParsedFile, Problem
from fleet.register_file.columns import NEEDED


@dataclass(frozen=True)
class Change:
    """One value that would change: what it is now and what it would be, in words fit for a page."""

    column: str
    before: str
    after: str


@dataclass(frozen=True)
class NewMachine:
    """A machine that would be created: fields for the model, features that the file names."""

    row: int
    fields: dict
    features: dict
    duty: str

    @property
    def asset_number(self):
        return self.fields["asset_number"]


@dataclass(frozen=True)
class MachineUpdate:
    """A machine that would be corrected, with what changes in words."""

    row: int
    machine: Machine
    fields: dict
    features: dict
    changes: tuple[Change, ...]


@dataclass
class ImportPlan:
    """All that a file would do. With any problem it does nothing."""

    problems: list = field(default_factory=list)
    created: list = field(default_factory=list)
    updated: list = field(default_factory=list)
    unchanged: int = 0

    @property
    def is_ready(self):
        return not self.problems and bool(self.created or self.updated)

    def fingerprint(self):
        """A short text that differs when the plan differs, so that a stale preview can be told."""
        said = [[p.row, p.column, p.message] for p in self.problems] + [
            [n.row, sorted(n.features.items()), n.duty, *(str(v) for v in n.fields.values())] for n in self.created
        ]
        said += [[u.row, u.machine.pk, [[c.column, c.before, c.after] for c in u.changes]] for u in self.updated]
        return hashlib.sha256(json.dumps(said).encode()).hexdigest()[:32]


def plan_import(parsed: ParsedFile, *, machines, areas, today) -> ImportPlan:
    """Compare a parsed file with the register.

    machines, areas  querysets of what the importing person may change
    today            no machine can be in use from a later date
    """
    plan = ImportPlan(problems=list(parsed.problems))
    register = _Register(parsed, machines, areas)
    for row in parsed.rows:
        _plan_row(plan, row, register, today)
    plan.problems.sort(key=lambda problem: problem.row)
    return plan


class _Register:
    """What the register holds of the things that a file names, read in a fixed number of queries."""

    def __init__(self, parsed, machines, areas):
        names = [row.values["asset_number"] for row in parsed.rows]
        self.machines = {m.asset_number: m for m in machines.with_place().filter(asset_number__in=names)}
        self.elsewhere = set(
            Machine.objects.filter(asset_number__in=names)
            .exclude(asset_number__in=self.machines)
            .values_list("asset_number", flat=True)
        )
        self.models = list(MachineModel.objects.prefetch_related("features"))
        self.areas = list(areas.select_related("site"))
        self.states = self._open_states(names)

    def _open_states(self, names):
        states = {}
        rows = FeatureState.objects.filter(machine__asset_number__in=names, until_date=None)
        for asset, code, state in rows.values_list("machine__asset_number", "feature", "state"):
            states.setdefault(asset, {})[code] = state
        return states

    def model_named(self, text):
        key = text.casefold()
        return next((m for m in self.models if key in (m.code.casefold(), str(m).casefold())), None)

    def areas_of(self, text):
        """The areas of the site called `text`, by code or name; empty when there is no such site here."""
        key = text.casefold()
        return [area for area in self.areas if key in (area.site.code.casefold(), area.site.name.casefold())]

    def sites(self):
        return sorted({area.site.name for area in self.areas})


def _plan_row(plan, row, register, today):
    machine = register.machines.get(row.values["asset_number"])
    if row.values["asset_number"] in register.elsewhere:
        message = "is at a site that you may not change."
        plan.problems.append(_problem(row, "asset_number", message, "machines of your sites."))
        return
    problems = []
    fields = {name: row.values[name] for name in ("serial", "built_year", "in_use_from", "note") if name in row.values}
    fields |= _resolve_model(row, register, problems) | _resolve_area(row, register, machine, problems)
    _check_dates(row, fields, machine, today, problems)
    features = {code: row.values[code] for code in FEATURES if code in row.values}
    if machine is None:
        _plan_new(plan, row, fields, features, problems)
    else:
        _plan_update(plan, row, machine, fields, features, register.states.get(machine.asset_number, {}), problems)
    plan.problems += problems


def _plan_new(plan, row, fields, features, problems):
    for name in NEEDED:
        if name not in row.values and not any(p.row == row.number and p.column == name for p in plan.problems):
            problems.append(_problem(row, name, "is missing.", "a value, since this machine is new to the register."))
    if not problems:
        fields = {"asset_number": row.values["asset_number"], **fields}
        plan.created.append(NewMachine(row.number, fields, features, row.values.get("duty", Duty.IN_SERVICE)))


def _plan_update(plan, row, machine, fields, features, states, problems):
    duty = row.values.get("duty", machine.duty)
    if duty != machine.duty:
        message = f"differs from the present duty, {machine.duty}."
        problems.append(
            _problem(
                row, "duty", message, f"{machine.duty}, or blank. Change the duty on the machine's page, with a reason."
            )
        )
    fields = {name: value for name, value in fields.items() if getattr(machine, name) != value}
    features = {code: state for code, state in features.items() if states.get(code, State.NOT_KNOWN) != state}
    changes = [Change(name, _words(getattr(machine, name)), _words(value)) for name, value in fields.items()]
    changes += [Change(code, states.get(code, State.NOT_KNOWN.value), state) for code, state in features.items()]
    if problems:
        return
    if changes:
        plan.updated.append(MachineUpdate(row.number, machine, fields, features, tuple(changes)))
    else:
        plan.unchanged += 1


def _resolve_model(row, register, problems):
    text = row.values.get("model")
    if text is None:
        return {}
    model = register.model_named(text)
    if model is None:
        accepted = _listed([f"{m.code} ({m})" for m in register.models]) or "none yet: enter the machine model first."
        problems.append(_problem(row, "model", "is not a machine model of the register.", accepted))
        return {}
    return {"model": model}


def _resolve_area(row, register, machine, problems):
    site, name = row.values.get("site"), row.values.get("area")
    if site is None and name is None:
        return {}
    if site is None:
        site = machine.site.code if machine else ""
    here = register.areas_of(site)
    if not here:
        if "site" in row.values:
            message = "is not a site with an area that you may change."
            problems.append(_problem(row, "site", message, _listed(register.sites())))
        return {}
    if name is None:
        return _site_alone(row, here, machine, problems)
    area = next((area for area in here if area.name.casefold() == name.casefold()), None)
    if area is None:
        message = f"is not an area of {here[0].site}."
        problems.append(_problem(row, "area", message, _listed([area.name for area in here])))
        return {}
    return {"area": area}


def _site_alone(row, here, machine, problems):
    """A site without an area says nothing new of a machine that is there; of any other machine it says too little."""
    if machine is not None and here[0].site_id != machine.area.site_id:
        message = f"is another site than {machine.site}, and the area there is not given."
        problems.append(_problem(row, "site", message, f"{machine.site}, or an area of the new site beside it."))
    return {}


def _check_dates(row, fields, machine, today, problems):
    start = fields.get("in_use_from", machine.in_use_from if machine else None)
    if "in_use_from" in fields and start > today:
        problems.append(_problem(row, "in_use_from", "is in the future.", f"a date up to {today}."))
    built = fields.get("built_year")
    latest = min(start, today).year if start else today.year
    if built and built > latest:
        problems.append(_problem(row, "built_year", "is later than the first day in use.", f"a year up to {latest}."))


def _problem(row, column, message, accepted):
    return Problem(row.number, column, str(row.values.get(column, ""))[:80], message, accepted)


def _listed(names, most=12):
    """Name what is accepted, but not hundreds of them."""
    shown = ", ".join(names[:most])
    return f"{shown} and {len(names) - most} more." if len(names) > most else shown


def _words(value):
    return "" if value is None else str(value)
