"""Who did a repair.

That is whoever signed the retest, entered readings of it, or changed a component since the machine was found faulty.
"""

from fleet.changes import changes_of
from inspections.deciding.release import withdrawal_of
from inspections.errors import SecondPersonNeeded
from inspections.models import Finding, Reading

COMPONENT = "fleet.component"


def people_of_repair(machine, retest):
    """Map the key of each person who did the repair to what they did, in words; three queries."""
    changes = _component_changes(machine).values_list("by", flat=True)
    did = dict.fromkeys(changes, "changed components of the machine")
    readings = (
        Reading.objects.filter(step__inspection=retest).order_by().values_list("entered_by", flat=True).distinct()
    )
    did |= dict.fromkeys(readings, f"entered readings of {retest}")
    did[retest.signed_by_id] = f"signed {retest}"
    did.pop(None, None)
    return did


def why_not_who_repaired(machine, retest, by):
    """Say why `by`, having done the repair, does not release alone; empty where they did not or the site lets them."""
    done = people_of_repair(machine, retest).get(by.pk) if machine.site.two_after_repair else None
    if not done:
        return ""
    return f"You {done}, and {machine.site} requires that a person who did not do the repair decides about the release."


def refuse_repairers(machine, retest, *, by, proposed_by):
    """Raise SecondPersonNeeded where the site wants somebody who did not do the repair, and both of the two did."""
    why = why_not_who_repaired(machine, retest, by)
    if why and (proposed_by is None or why_not_who_repaired(machine, retest, proposed_by)):
        raise SecondPersonNeeded(f"{why} {proposed_by or by} did part of the repair too. Ask somebody who did not.")


def _component_changes(machine):
    """Changes of components since the withdrawal, or since the first open finding if that was before it."""
    changes = changes_of("machine", machine.pk).filter(row=COMPONENT).order_by()
    opened = Finding.objects.open().of_faults().filter(machine=machine).order_by("opened_at")
    withdrawal, first = withdrawal_of(machine), opened.values_list("opened_at", flat=True).first()
    since = min((moment for moment in (withdrawal and withdrawal.recorded_at, first) if moment), default=None)
    return changes.filter(at__gte=since) if since else changes.none()
