"""Keep rows of any kind: renewed at the end of an action, compared and mended at night, used only while they hold."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from django.db import DEFAULT_DB_ALIAS, models

from fleet.acting.keys import only_condition
from fleet.acting.replacing import write_by_key
from fleet.acting.scope import transaction_for
from fleet.current_state.renewing import renew_collected
from fleet.models import Machine
from fleet.models.querysets.prepared_queries import prepared
from inspections.models import KeptRules

AT_ONCE = 500  # machines of one transaction
TOGETHER = 2000  # machines of one query, in the transaction of an action


@dataclass(frozen=True, slots=True, eq=False)
class Kind:
    """One kind of kept rows, of a model with a `machine`.

    computed  function of (sorted keys of machines, day, using): the rows that should be there, unsaved, by their key
    ways      model -> function of (state before by key, using): keys of the machines that written rows concern
    rules     function that returns the digest of what the rows follow from besides records
    is_dated  whether the rows hold for one day only
    """

    name: str
    model: type[models.Model]
    computed: Callable
    ways: Mapping[type[models.Model], Callable]
    rules: Callable[[], str]
    is_dated: bool = False

    @property
    def columns(self):
        return tuple(field.attname for field in self.model._meta.concrete_fields)


@dataclass(frozen=True, slots=True)
class Difference:
    """A row that was not as it should be."""

    machine: int
    key: int
    words: str


def renew_written(kind, written, using):
    """Renew the rows of the machines that the written rows concern; at the end of an action."""
    keys = {pk for model, before in written.items() if model in kind.ways for pk in kind.ways[model](before, using)}
    if keys and (filled := _filled(kind, using)) is not None:
        renew(kind, keys, filled.day, using)


def renew(kind, machines, day, using=DEFAULT_DB_ALIAS):
    """Renew the rows of the machines with these keys. Return the Differences."""
    machines, found = sorted(machines), []
    if machines:
        with transaction_for(using):
            for first in range(0, len(machines), TOGETHER):
                found += _renew(kind, machines[first : first + TOGETHER], day, using)
    return found


def holds(kind, day=None, using=DEFAULT_DB_ALIAS):
    """Return whether the rows can be used, for `day` if they are dated; one query. Else a page computes them."""
    renew_collected(using)
    filled = _filled(kind, using)
    return filled is not None and filled.is_whole and (not kind.is_dated or filled.day == day)


def fill(kind, *, at, day=None, using=DEFAULT_DB_ALIAS, each=iter):
    """Renew every row for `day`, in short transactions, and note that they hold. Return the Differences there were.

    While it runs for another day or by other rules no page uses the rows, and actions renew theirs for the new day.
    """
    day = day if kind.is_dated else None
    filled = _filled(kind, using)
    note = {"rules": kind.rules(), "day": day, "filled_at": at}
    if filled is None or filled.day != day:
        _note(kind, note | {"is_whole": False}, using)
    found = [one for keys in each(batches(kind, using)) for one in renew(kind, keys, day, using)]
    _note(kind, note | {"is_whole": True}, using)
    return found


def day_kept(kind, using=DEFAULT_DB_ALIAS):
    """Return the day for which the rows are kept or being filled; None where they are not."""
    filled = _filled(kind, using)
    return filled and filled.day


def compare(kind, *, using=DEFAULT_DB_ALIAS, each=iter):
    """Yield every Difference and change nothing; none where the rows are not used."""
    renew_collected(using)
    filled = _filled(kind, using)
    if filled is not None:
        for keys in each(batches(kind, using)):
            yield from _differences(kind, *_locked(kind, keys, filled.day, using))


def batches(kind, using=DEFAULT_DB_ALIAS):
    """Return the keys of all machines, and of those that are gone but have rows, in batches."""
    keys = set(Machine._base_manager.using(using).order_by().values_list("pk", flat=True))
    keys |= set(kind.model.objects.using(using).order_by().values_list("machine", flat=True).distinct())
    keys = sorted(keys)
    return [keys[first : first + AT_ONCE] for first in range(0, len(keys), AT_ONCE)]


def _filled(kind, using):
    if using == DEFAULT_DB_ALIAS:
        return next(iter(_filled_by_default(kind.name, kind.rules())), None)
    return KeptRules.objects.using(using).filter(kind=kind.name, rules=kind.rules()).first()


@prepared
def _filled_by_default(kind, rules):
    return KeptRules.objects.filter(kind=kind, rules=rules)


def _note(kind, values, using):
    with transaction_for(using):
        KeptRules.objects.using(using).update_or_create(kind=kind.name, defaults=values)


def _renew(kind, machines, day, using):
    there, right = _locked(kind, machines, day, using)
    found = _differences(kind, there, right)
    if gone := [one.key for one in found if one.key not in right]:
        kind.model.objects.using(using).filter(pk__in=gone).delete()
    write_by_key([right[one.key] for one in found if one.key in right], using)
    return found


def _locked(kind, machines, day, using):
    """Return the rows that are there, locked in the order of their keys, and those that should be there, by key.

    Of two actions that write the inspections of one machine, the row of its current state, which is renewed first, lets
    one go on; other writes concern rows that are there.
    """
    with transaction_for(using):
        rows = kind.model.objects.using(using).filter(**only_condition("machine", machines)).order_by("pk")
        there = {row.pk: row for row in rows.select_for_update()}
    return there, kind.computed(machines, day, using)


def _differences(kind, there, right):
    found = []
    for key in sorted(there.keys() | right.keys()):
        words = _in_words(kind, there.get(key), right.get(key))
        if words:
            found.append(Difference((right.get(key) or there[key]).machine_id, key, words))
    return found


def _in_words(kind, is_there, should_be):
    if is_there is None:
        return "had no row"
    if should_be is None:
        return "had a row too many"
    columns = [name for name in kind.columns if getattr(is_there, name) != getattr(should_be, name)]
    return f"differed in {', '.join(columns)}" if columns else ""
