"""The last inspection of a machine as a column of the register says it: stored as an inspection recorded elsewhere."""

from datetime import date
from typing import NamedTuple

from fleet.changes import record_created
from fleet.imports.plan import Change, problem
from fleet.models import EarlierInspection, Machine
from fleet.register_file import LAST_INSPECTED

INSPECTED = "inspected"  # key of what a row enters, among what is extra of it
TITLE = "Last inspection in the register file"
AT_ONCE = 500


class Inspected(NamedTuple):
    """The day of an inspection recorded elsewhere, and the code of the procedure that it counts as."""

    done_on: date
    counts_as: str


class LastInspections:
    """The inspections recorded elsewhere of the machines that a file names."""

    def __init__(self, machines, scope):
        self.counts_as, self.today = scope.counts_as, scope.today
        rows = EarlierInspection.objects.filter(machine__in=list(machines)).order_by()
        self.held = set(rows.values_list("machine_id", "done_on"))

    def new_for(self, row, machine, problems):
        """Return the inspection that a row adds to the register, or None. A day to come is a problem."""
        day = row.values.get(LAST_INSPECTED)
        if day is None:
            return None
        if day > self.today:
            problems.append(problem(row, LAST_INSPECTED, "is in the future.", f"a date up to {self.today}."))
            return None
        if machine is not None and (machine.pk, day) in self.held:
            return None
        return Inspected(day, self.counts_as)


def inspection_changes(inspected):
    return [Change(LAST_INSPECTED, "", inspected.done_on.isoformat())] if inspected else []


def enter_inspections(plan, *, by, at, source):
    """Store the inspections that the rows of a plan add, within the caller's transaction."""
    new = {one.fields["asset_number"]: one.extra[INSPECTED] for one in plan.created}
    new |= {one.record.asset_number: one.extra[INSPECTED] for one in plan.updated}
    wanted = {asset: inspected for asset, inspected in new.items() if inspected}
    assets = list(wanted)
    for start in range(0, len(assets), AT_ONCE):
        machines = Machine.objects.filter(asset_number__in=assets[start : start + AT_ONCE]).order_by("pk")
        rows = [_row(machine, wanted[machine.asset_number], by, at, source) for machine in machines]
        record_created(EarlierInspection.objects.bulk_create(rows), by=by, at=at)


def _row(machine, inspected, by, at, source):
    return EarlierInspection(
        machine=machine,
        done_on=inspected.done_on,
        counts_as=inspected.counts_as,
        procedure=TITLE,
        source=source[-120:],
        by=by,
        recorded_at=at,
    )
