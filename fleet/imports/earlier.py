"""Inspections recorded elsewhere: stored with the text of the old record, never judged."""

from functools import partial

from fleet.changes import record_created, recording
from fleet.extensions import procedure_choices
from fleet.imports.places import Machines
from fleet.imports.plan import (
    Addition,
    Correction,
    cells_of,
    differences,
    listed,
    needed_problems,
    plan_rows,
    problem,
)
from fleet.models import EarlierInspection

TEXTS = ("result", "done_by", "reference")


def plan_earlier(parsed, scope, tell):
    """Compare the rows with the stored earlier inspections; machine, day and procedure identify one."""
    machines = Machines(parsed.rows, scope.machines)
    rows = EarlierInspection.objects.filter(machine__in=list(machines.by_asset.values()))
    held = {(one.machine_id, one.done_on, one.procedure.casefold()): one for one in rows}
    return plan_rows(parsed, parsed.rows, partial(_plan_row, machines, held, scope), tell)


def _plan_row(machines, held, scope, plan, row, told):
    problems = []
    machine = machines.known(row, problems)
    problems += needed_problems(row, plan.kind, told)
    fields = {name: row.values[name] for name in TEXTS if name in row.values} | _counts_as(row, problems)
    if "done_on" in row.values and row.values["done_on"] > scope.today:
        problems.append(problem(row, "done_on", "is in the future.", f"a date up to {scope.today}."))
    is_whole = all(name in row.values for name in plan.kind.key)
    plan.problems += problems
    if problems or not is_whole:
        return
    key = (machine.pk, row.values["done_on"], row.values["procedure"].casefold())
    if key in held:
        _plan_update(plan, row, machine, held[key], fields)
        return
    fields = {"counts_as": scope.counts_as, **fields}
    fields |= {"machine": machine, "done_on": row.values["done_on"], "procedure": row.values["procedure"]}
    cells = cells_of(row) | {"counts_as": fields["counts_as"]}
    plan.created.append(Addition(row.number, str(machine), cells, fields))


def _counts_as(row, problems):
    text = row.values.get("counts_as")
    if text is None:
        return {}
    by_name = {name.casefold(): code for code, title in procedure_choices() for name in (code, title)}
    if text.casefold() not in by_name:
        accepted = listed([code for code, _ in procedure_choices()]) or "blank: no procedure is loaded."
        problems.append(problem(row, "counts_as", "is not a procedure with an interval.", accepted, "cell"))
        return {}
    return {"counts_as": by_name[text.casefold()]}


def _plan_update(plan, row, machine, one, fields):
    fields, changes = differences(one, fields)
    if changes:
        plan.updated.append(Correction(row.number, f"{machine}: {one}", one, tuple(changes), fields))
    else:
        plan.unchanged += 1


def apply_earlier(plan, *, by, at, source, tell, prepared=None):
    total = len(plan.created) + len(plan.updated)
    tell(0, total, "Entering earlier inspections")
    rows = [EarlierInspection(**new.fields, source=source[-120:], by=by, recorded_at=at) for new in plan.created]
    record_created(EarlierInspection.objects.bulk_create(rows, batch_size=500), by=by, at=at)
    for done, update in enumerate(plan.updated, start=len(rows)):
        tell(done, total, "Correcting earlier inspections")
        with recording(update.record, by=by, at=at):
            EarlierInspection.objects.filter(pk=update.record.pk).update(**update.fields)


def earlier_rows(scope):
    """Yield the earlier inspections of the machines as rows of a file."""
    rows = EarlierInspection.objects.filter(machine__in=scope.machines.order_by()).select_related("machine")
    for one in rows.order_by("machine__asset_number", "done_on", "pk").iterator(chunk_size=500):
        yield {
            "asset_number": one.machine.asset_number,
            **{name: getattr(one, name) for name in ("done_on", "procedure", *TEXTS, "counts_as")},
        }
