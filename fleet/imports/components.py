"""Components of machines with their serials and lots."""

from functools import partial

from fleet.actions.components import fit_component, remove_component
from fleet.catalogue import COMPONENT_KINDS, GASES
from fleet.catalogue.dimensions import UNITS
from fleet.catalogue.plausibility import rated_problem
from fleet.changes import recording
from fleet.errors import RegisterRefused
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
    words,
)
from fleet.models import Component

TEXTS = {"maker_part": "part_number", "serial": "serial", "lot": "lot", "note": "note"}  # column -> field
RATED = tuple(dict.fromkeys(value.key for kind in COMPONENT_KINDS.values() for value in kind.rated))
KINDS_BY_NAME = by_names(COMPONENT_KINDS.values(), lambda kind: kind.code, lambda kind: kind.name)
GASES_BY_NAME = by_names(GASES.values(), lambda gas: gas.code, lambda gas: gas.name)


def plan_components(parsed, scope, tell):
    """Compare the rows with the components of the machines that the person may change.

    A row means the component of the same label fitted on the same day; without a day, the one in place.
    """
    machines = Machines(parsed.rows, scope.machines)
    held = _Held(machines)
    told = {(found.row, found.column) for found in parsed.problems}
    matched = [(row, *_matched(row, machines, held, told)) for row in parsed.rows]
    return plan_rows(parsed, matched, partial(_plan_row, held, scope.today), tell)


class _Held:
    """The components of the machines that a file names, by machine and label, and those that a row already names."""

    def __init__(self, machines):
        self.components = {}
        for component in Component.objects.filter(machine__in=list(machines.by_asset.values())).order_by("pk"):
            self.components.setdefault((component.machine_id, component.label), []).append(component)
        self.taken = set()
        self.removed = set()
        self.opened = set()

    def take(self, machine, values):
        day, until = values.get("fitted_on"), values.get("removed_on")
        free = [
            component
            for component in self.components.get((machine.pk, values["label"]), ())
            if component.pk not in self.taken
        ]
        same = [
            component for component in free if (component.fitted_on == day if day else component.removed_on is None)
        ]
        same.sort(key=lambda component: component.removed_on != until)
        if not same:
            return None
        self.taken.add(same[0].pk)
        if until and same[0].removed_on is None:
            self.removed.add(same[0].pk)
        return same[0]

    def in_place(self, machine, label):
        return next(
            (
                component
                for component in self.components.get((machine.pk, label), ())
                if component.removed_on is None and component.pk not in self.removed
            ),
            None,
        )


def _matched(row, machines, held, told):
    """Return the machine and the component that a row means, None for what is not found, and the problems."""
    problems = []
    machine = machines.known(row, problems)
    if "label" not in row.values and (row.number, "label") not in told:
        problems.append(problem(row, "label", "is missing.", "the name of the component on its machine."))
    if problems or "label" not in row.values:
        return None, None, problems
    return machine, held.take(machine, row.values), problems


def _plan_row(held, today, plan, matched, told):
    row, machine, component, problems = matched
    if machine is not None:
        _plan_component(plan, row, machine, component, held, told, today)
    plan.problems += problems


def _plan_component(plan, row, machine, component, held, told, today):
    problems = []
    fields = {field: row.values[column] for column, field in TEXTS.items() if column in row.values}
    fields |= _named(row, "kind", KINDS_BY_NAME, problems) | _named(row, "gas", GASES_BY_NAME, problems)
    fields |= {name: row.values[name] for name in ("fitted_on", "removed_on") if name in row.values}
    _check_dates(row, fields, machine, component, today, problems)
    kind = COMPONENT_KINDS.get(fields.get("kind", component.kind if component else ""))
    rated = _rated(row, kind, problems)
    if component is None:
        problems += needed_problems(row, plan.kind, told | {(found.row, found.column) for found in problems})
        _check_new(row, machine, kind, fields, held, problems)
        if not problems:
            fields = {"label": row.values["label"], **fields, "rated": rated}
            label = f"{machine}: {row.values['label']}"
            plan.created.append(Addition(row.number, label, cells_of(row), fields, {"machine": machine}))
    elif not problems:
        _plan_update(plan, row, component, machine, fields, rated)
    plan.problems += problems


def _named(row, column, by_name, problems):
    text = row.values.get(column)
    if text is None:
        return {}
    found = by_name.get(text.casefold())
    if found is None:
        accepted = listed(sorted({one.code for one in by_name.values()}), 60)
        problems.append(problem(row, column, f"is not a {column} of the catalogue.", accepted, "cell"))
        return {}
    return {column: found.code}


def _rated(row, kind, problems):
    given = {key: row.values[key] for key in RATED if key in row.values}
    own = {value.key: value for value in kind.rated} if kind else {}
    for key, (number, unit) in given.items():
        if kind and key not in own:
            accepted = listed(list(own)) or "none"
            problems.append(problem(row, key, f"is not a rated value of a {kind.name.lower()}.", accepted))
        elif kind and unit not in UNITS[own[key].dimension]:
            accepted = listed(UNITS[own[key].dimension])
            problems.append(problem(row, key, f"has a unit that does not measure {own[key].dimension}.", accepted))
        elif kind and (found := rated_problem(number, own[key].dimension, unit)):
            problems.append(problem(row, key, found.message, f"{found.accepted}."))
    return given


def _check_dates(row, fields, machine, component, today, problems):
    fitted = fields.get("fitted_on", component.fitted_on if component else None)
    if "fitted_on" in fields and not machine.in_use_from <= fitted <= today:
        message = f"is outside the period of the register for machine {machine}."
        problems.append(problem(row, "fitted_on", message, f"a date from {machine.in_use_from} to {today}."))
    removed = fields.get("removed_on")
    if removed and fitted and not fitted <= removed <= today:
        message = "is not between the fitting date and today."
        problems.append(problem(row, "removed_on", message, f"a date from {fitted} to {today}, or blank."))
    if removed and component and component.removed_on and component.removed_on != removed:
        message = f"differs from the removal date in the register, {component.removed_on}."
        problems.append(problem(row, "removed_on", message, f"{component.removed_on}, or blank."))


def _check_new(row, machine, kind, fields, held, problems):
    if kind and kind.needs_gas and "gas" not in fields and "gas" not in row.values:
        accepted = listed(sorted(GASES), 60)
        problems.append(problem(row, "gas", f"is missing: a {kind.name.lower()} carries one gas.", accepted))
    if "removed_on" in row.values:
        return
    key = (machine.pk, row.values["label"])
    there = held.in_place(machine, row.values["label"])
    if there is not None:
        message = f"has been in place since {there.fitted_on}."
        accepted = (
            f"that date in fitted_on to correct that component; to replace it, a row with fitted_on "
            f"{there.fitted_on} and its removed_on as well."
        )
        problems.append(problem(row, "label", message, accepted))
    elif key in held.opened:
        problems.append(problem(row, "label", "would be in place twice.", "removed_on for all but the last of them."))
    held.opened.add(key)


def _plan_update(plan, row, component, machine, fields, rated):
    fields, changes = differences(component, fields)
    new = {key: value for key, value in rated.items() if _pair(component.rated.get(key)) != _pair(value)}
    changes += [Change(key, words(component.rated.get(key)), words(value)) for key, value in new.items()]
    if new:
        fields["rated"] = component.rated | new
    if changes:
        plan.updated.append(Correction(row.number, f"{machine}: {component.label}", component, tuple(changes), fields))
    else:
        plan.unchanged += 1


def _pair(value):
    return value and (float(value[0]), value[1])


def apply_components(plan, *, by, at, source, tell, prepared=None):
    """Apply the plan. Corrections come first, so that a component is removed before its successor is added."""
    total = len(plan.updated) + len(plan.created)
    for done, update in enumerate(plan.updated):
        tell(done, total, "Correcting components")
        _correct(update, by, at)
    for done, new in enumerate(plan.created, start=len(plan.updated)):
        tell(done, total, "Entering components")
        fit_component(new.extra["machine"], by=by, at=at, **new.fields)


def _correct(update, by, at):
    fields = dict(update.fields)
    removed_on = fields.pop("removed_on", None)
    component = (
        Component.objects.select_for_update(no_key=True)
        .select_related("machine__area__site")
        .filter(pk=update.record.pk)
        .first()
    )
    if component is None:
        raise RegisterRefused(
            f"Nothing was imported: {update.label} has been removed since the preview. Open the preview again."
        )
    if fields:
        with recording(component, by=by, at=at):
            for name, value in fields.items():
                setattr(component, name, value)
            component.save(update_fields=list(fields))
    if removed_on is not None:
        remove_component(component, removed_on=removed_on, by=by, at=at)


def component_rows(scope):
    """Yield the components of the machines as rows of a file."""
    components = Component.objects.filter(machine__in=scope.machines.order_by()).select_related("machine")
    for component in components.order_by("machine__asset_number", "label", "fitted_on", "pk").iterator(chunk_size=500):
        yield {
            "asset_number": component.machine.asset_number,
            "label": component.label,
            "fitted_on": component.fitted_on,
            "kind": component.kind,
            "gas": component.gas,
            "maker_part": component.part_number,
            "serial": component.serial,
            "lot": component.lot,
            "removed_on": component.removed_on or "",
            "note": component.note,
            **{key: words(list(value)) for key, value in component.rated.items()},
        }
