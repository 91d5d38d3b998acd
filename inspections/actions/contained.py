"""What a complete inspection settles of the procedures that it contains."""

from django.db import transaction
from django.db.models import Q

from fleet.changes import record_created
from inspections.actions.holding import hold_procedures
from inspections.actions.planning import plan_next_inspection
from inspections.actions.stages import change_stage
from inspections.at_bench.contained_procedures import lacking_steps
from inspections.models import ContainedInspection, Inspection, Procedure, Stage
from inspections.models.querysets.inspections import with_by_interval


@transaction.atomic
def settle_contained(inspection, *, by, at):
    """Note what a complete inspection did of each procedure that its version contains. Return the notes.

    The inspection of such a procedure that is planned or booked is void, with the one that settled it as its reason;
    the note says which, and the on-time figure counts it by the date of the signature. The next one is planned an
    interval later. A contained procedure that has steps by now which the signed version lacks is not settled.
    """
    content, done_on = inspection.version.content, inspection.machine.site.date_of(at)
    procedures = list(Procedure.objects.filter(code__in=content.get("contains", ())).order_by("pk"))
    hold_procedures([one.pk for one in procedures])
    notes = []
    for procedure in procedures:
        version = procedure.current_version(done_on)
        if version and lacking_steps(content, version.content):
            continue
        opened = list(_settled_by(inspection, procedure, done_on))
        for one in opened or [None]:
            notes.append(_noted(inspection, procedure, one, done_on, at))
        for one in opened:
            reason = f"Settled by {inspection}, {inspection.procedure}, which contains it."
            change_stage(one, Stage.VOID, by=by, at=at, void_reason=reason[:300], voided_by=by, voided_at=at)
        if opened:
            plan_next_inspection(inspection.machine, procedure, last_done_on=done_on, by=by, at=at)
    record_created(notes, by=by, at=at)
    return notes


def _noted(inspection, procedure, settled, done_on, at):
    return ContainedInspection.objects.create(
        done_in=inspection, procedure=procedure, settled=settled, done_on=done_on, at=at
    )


def _settled_by(inspection, procedure, done_on):
    """What is planned or booked of the procedure on the machine: by its interval, or with an open window.

    What a person planned for a later day of their choice stays.
    """
    found = Inspection.objects.not_begun().filter(machine=inspection.machine, procedure=procedure, retests=None)
    planned = with_by_interval(found).filter(Q(by_interval=True) | Q(opens_on__lte=done_on))
    return planned.select_related("machine__area__site", "procedure").order_by("pk")
