"""Renew the rows of machines: locked first, then computed, so that of two actions the later sees what the earlier did.

Only rows that the action wrote itself are locked before, and the head of the journal after: no two actions can wait for
each other here.
"""

from dataclasses import dataclass

from django.db import DEFAULT_DB_ALIAS

from fleet.acting.keys import only_condition
from fleet.acting.replacing import write_by_key
from fleet.acting.scope import open_scope, renew_derived, transaction_for
from fleet.current_state.computing import COLUMNS, computed
from fleet.current_state.concerned import concerned
from fleet.models import CurrentState, Machine

AT_ONCE = 500  # machines of one transaction
TOGETHER = 2000  # machines of one query, in the transaction of an action


@dataclass(frozen=True, slots=True)
class Difference:
    """A row that was not as it should be: the columns that differed; none for a row that was missing or too many."""

    machine: int
    asset_number: str
    columns: tuple[str, ...]
    words: str


def renew_written(written, using):
    """Renew the states of the machines that the written rows concern; at the end of an action."""
    renew(concerned(written, using), using)


def renew_collected(using=DEFAULT_DB_ALIAS):
    """Renew what the open action wrote so far, for a reader within it."""
    scope = open_scope(using)
    if scope is not None:
        renew_derived(scope)


def renew(keys, using=DEFAULT_DB_ALIAS):
    """Renew the rows of the machines with these keys. Return the Differences."""
    keys, found = sorted(keys), []
    if keys:
        with transaction_for(using):
            for first in range(0, len(keys), TOGETHER):
                found += _renew(keys[first : first + TOGETHER], using)
    return found


def compared(keys, using=DEFAULT_DB_ALIAS):
    """Return the Differences of these rows and change none."""
    with transaction_for(using):
        return _differences(*_locked(sorted(keys), using))


def _renew(keys, using):
    there, right = _locked(keys, using)
    found = _differences(there, right)
    wrong = [one.machine for one in found]
    gone = [pk for pk in wrong if pk not in right]
    if gone:
        CurrentState.objects.using(using).filter(pk__in=gone).delete()
    write_by_key([right[pk] for pk in wrong if pk in right], using)
    return found


def _locked(keys, using):
    """Return the rows that are there, locked in the order of their keys, and those that should be there, by key.

    Where a row is missing, its machine is locked instead, so that two actions do not both create it.
    """
    rows = CurrentState.objects.using(using).filter(**only_condition("pk", keys)).order_by("pk")
    there = {row.pk: row for row in rows.select_for_update()}
    if missing := [pk for pk in keys if pk not in there]:
        machines = Machine.objects.using(using).filter(**only_condition("pk", missing)).order_by("pk")
        list(machines.select_for_update(no_key=True).values_list("pk"))
    return there, computed(keys, using)


def _differences(there, right):
    return [one for pk in sorted(there.keys() | right.keys()) if (one := _difference(pk, there.get(pk), right.get(pk)))]


def _difference(pk, is_there, should_be):
    if is_there is None:
        return Difference(pk, should_be.asset_number, (), "had no row")
    if should_be is None:
        return Difference(pk, is_there.asset_number, (), "had a row, and is not in the register")
    columns = tuple(name for name in COLUMNS if getattr(is_there, name) != getattr(should_be, name))
    return Difference(pk, should_be.asset_number, columns, f"differed in {', '.join(columns)}") if columns else None
