"""What a change of planning rules does to the planned inspections: computed first, shown, then written.

Only inspections that were planned by their interval move: what a person planned for a day of their choice stays, and so
does what is booked or overdue, so that no rule makes a missed date disappear.
"""

from dataclasses import dataclass, field
from datetime import date

from inspections.models import Inspection
from inspections.models.querysets.inspections import due_window, with_by_interval, with_last_done
from inspections.planning.rule_choice import Rhythm, RuleTable
from inspections.schedule.rhythms import traits_of_all


@dataclass(frozen=True, slots=True)
class Move:
    """A planned inspection with its new due date and window."""

    inspection: Inspection
    due_on: date
    opens_on: date
    closes_on: date

    @property
    def is_earlier(self):
        return self.due_on < self.inspection.due_on

    @property
    def is_later(self):
        return self.due_on > self.inspection.due_on


@dataclass
class Effects:
    """What follows for the machines whose rhythm changes.

    begin  machines on which the procedure becomes planned; the next nightly plan gives them their inspection
    ended  planned inspections on machines where the procedure is no longer planned, with the rhythm that says so
    kept   planned inspections that stay: planned by a person for a day of their choice, or overdue
    """

    moves: list[Move] = field(default_factory=list)
    ended: list[tuple[Inspection, Rhythm]] = field(default_factory=list)
    begin: int = 0
    kept: int = 0

    @property
    def earlier(self):
        return sum(one.is_earlier for one in self.moves)

    @property
    def later(self):
        return sum(one.is_later for one in self.moves)


def effects_of(procedure, before: RuleTable, after: RuleTable, today) -> Effects:
    """Compute what happens to the planned inspections of a procedure when `after` takes the place of `before`.

    At most four queries, whatever the number of machines.
    """
    traits = traits_of_all(before.features | after.features, today)
    was = {pk: before.rhythm(one) for pk, one in traits.items()}
    will = {pk: after.rhythm(one) for pk, one in traits.items()}
    changed = {pk for pk in traits if was[pk].timing != will[pk].timing}
    found = Effects(begin=sum(will[pk].is_planned and not was[pk].is_planned for pk in changed))
    if changed:
        for inspection in _planned(procedure):
            if inspection.machine_id in changed:
                _add(found, inspection, will[inspection.machine_id], today)
    return found


def new_due_date(last_done_on, due_on, rhythm, today):
    """Return when a planned inspection due on `due_on` is due by a new rhythm.

    It moves to a later day only as its interval says, and to an earlier one at most to today. One on a machine that was
    never inspected moves only if it lies further ahead than one interval.
    """
    if last_done_on is None:
        return min(due_on, rhythm.interval.after(today))
    return max(rhythm.interval.after(last_done_on), min(due_on, today))


def _planned(procedure):
    """What is planned and not booked, with whether its date follows from the interval."""
    planned = Inspection.objects.planned().filter(procedure=procedure, retests=None).with_place()
    return with_by_interval(with_last_done(planned, procedure, machine="machine")).order_by("pk")


def _add(found, inspection, rhythm, today):
    if not inspection.by_interval:
        found.kept += 1
    elif not rhythm.is_planned:
        found.ended.append((inspection, rhythm))
    elif inspection.closes_on < today:
        found.kept += 1
    else:
        last = last_done_on(inspection, inspection.machine.site)
        due_on = new_due_date(last, inspection.due_on, rhythm, today)
        move = Move(inspection, due_on, *due_window(due_on, rhythm.window_days))
        if (move.due_on, move.opens_on) != (inspection.due_on, inspection.opens_on):
            found.moves.append(move)


def last_done_on(row, site):
    """The day on which a procedure was last done on a machine, None for never; `row` is annotated by with_last_done."""
    signed_on = site.date_of(row.last_signed_at) if row.last_signed_at else None
    done = [day for day in (signed_on, row.last_earlier_on, row.last_contained_on) if day]
    return max(done, default=None)
