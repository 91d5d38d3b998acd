"""Machines of a large file: entered in hidden batches, then shown all at once.

SQLite allows one writer at a time, and ten thousand machines with their features take longer than other writers can
wait. Each batch is an action and a short transaction of its own; nothing follows from it until the last one, which
shows them all.
"""

import secrets
import time
from datetime import timedelta

from django.db import IntegrityError, connection

from fleet.acting.scope import acting, deriving_nothing
from fleet.acting.watching import note_written
from fleet.actions.register import register_machines
from fleet.errors import RegisterRefused
from fleet.models import AreaPeriod, ChangeEntry, FeatureState, Machine, MachineStatus, StatusChange

AT_ONCE, LEAST, MOST = 50, 5, 250  # machines in one transaction: at first, least and most
WANTED_S = 0.25  # seconds that one transaction should take, also on a slow or busy computer
LEFT_OVER = timedelta(days=1)  # after this time, machines of an import that was killed are removed
FORMAT = "%Y%m%d%H%M"


def stage_machines(entries, *, by, at, source, tell, total):
    """Enter hidden machines and return the name of this staging. If refused, raise RegisterRefused and leave none.

    entries  as `register_machines` takes them
    """
    name = f"{at:{FORMAT}}-{secrets.token_hex(8)}"
    try:
        done, size = 0, AT_ONCE
        while done < len(entries):
            tell(done, total, "Entering machines")
            start = time.monotonic()
            with acting("register_machines", by=by and by.pk, at=at), deriving_nothing():
                register_machines(entries[done : done + size], by=by, at=at, staged=name)
            held_s, done = time.monotonic() - start, done + size
            size = next_size(size, held_s)
            _let_others_write(held_s)
    except IntegrityError:
        discard_machines(name)
        raise RegisterRefused(
            f"Nothing was imported from {source}: one of its machines was entered after the preview. "
            "Open the preview again."
        ) from None
    except BaseException:
        discard_machines(name)
        raise
    return name


def next_size(size, held_s):
    """Return the size of the next batch from the time that the last one took with `size` machines."""
    return max(LEAST, min(MOST, 2 * size, int(size * WANTED_S / max(held_s, 0.001))))


def show_machines(name):
    """Show the machines of a staging to everybody, within the caller's transaction."""
    for status in MachineStatus.values:
        Machine.with_staged.filter(staged=f"{name}:{status}").update(staged="", status=status)


def discard_machines(name):
    """Remove the machines of a staging, a batch at a time."""
    _remove(Machine.with_staged.filter(staged__startswith=f"{name}:"))


def discard_left_over(*, at):
    """Remove machines left by imports that were killed long ago. Return how many."""
    return _remove(Machine.with_staged.exclude(staged="").filter(staged__lt=f"{at - LEFT_OVER:{FORMAT}}"))


def _remove(machines):
    count = 0
    while pks := list(machines.order_by("pk").values_list("pk", flat=True)[:AT_ONCE]):
        with acting("discard_machines"), deriving_nothing():
            _remove_batch(pks)
        count += len(pks)
    return count


def _remove_batch(pks):
    """Remove machines with what was entered of them. The journal reads all rows first, rather than each by itself."""
    entries = ChangeEntry.objects.filter(record="machine", record_pk__in=pks)
    machines = Machine.with_staged.filter(pk__in=pks)
    of_machines = (model.objects.filter(machine__in=pks) for model in (AreaPeriod, FeatureState, StatusChange))
    for rows in (entries, machines, *of_machines):
        note_written(rows.model, list(rows.order_by().values_list("pk", flat=True)), connection.alias)
    entries.delete()
    machines.delete()


def _let_others_write(held_s):
    """Pause for as long as the lock was held: SQLite gives its lock to whoever polls at the right moment."""
    if connection.vendor == "sqlite" and not connection.in_atomic_block:
        time.sleep(min(held_s, 0.5))
