"""Who did a repair.

That is whoever signed the retest, entered readings of it, or changed or replaced a component since the machine was
found faulty.
"""

from django.db.models import Q

from fleet.changes import changes_of
from inspections.deciding.release import withdrawal_of
from inspections.errors import SecondPersonNeeded
from inspections.models import Finding, Reading, Replacement

COMPONENT = "fleet.component"


def people_of_repair(machine, retest):
    """Map the key of each person who did the repair to what they did, in words; four queries."""
    since = _faulty_since(machine)
    changes = _component_changes(machine, since).values_list("by", flat=True)
    did = dict.fromkeys(changes, "changed components of the machine")
    did |= dict.fromkeys(_replacements(machine, retest, since), "entered a replaced component")
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


def _replacements(machine, retest, since):
    """Who entered a replacement at the bench of the retest, or since the machine was found faulty."""
    recent = Q(step__inspection=retest) | (Q(at__gte=since) if since else Q(pk__in=[]))
    found = Replacement.objects.in_force().filter(recent, step__inspection__machine=machine)
    return found.order_by().values_list("by", flat=True).distinct()


def _component_changes(machine, since):
    changes = changes_of("machine", machine.pk).filter(row=COMPONENT).order_by()
    return changes.filter(at__gte=since) if since else changes.none()


def _faulty_since(machine):
    """The moment of the withdrawal, or of the first open finding if that was before it; None without either."""
    opened = Finding.objects.open().exclude(origin=Finding.Origin.CIRCUIT).filter(machine=machine).order_by("opened_at")
    withdrawal, first = withdrawal_of(machine), opened.values_list("opened_at", flat=True).first()
    return min((moment for moment in (withdrawal and withdrawal.recorded_at, first) if moment), default=None)
