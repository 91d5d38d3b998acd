"""What each signature proved: stored with it, from rows that never change after; compared with these rows at night."""

from django.db import DEFAULT_DB_ALIAS
from django.db.models import Exists, OuterRef

from fleet.acting.scope import transaction_for
from inspections.kept.keeping import AT_ONCE, Difference
from inspections.models import Completion, Inspection

NAME = "completions"


def compare_completions(*, using=DEFAULT_DB_ALIAS, each=iter):
    """Yield the Difference of every signed inspection whose stored answer is not what its steps say; change nothing."""
    for keys in each(_batches(using)):
        yield from _differences(keys, using)


def mend_completions(*, using=DEFAULT_DB_ALIAS, each=iter):
    """Store what the steps say, in short transactions. Return the Differences there were."""
    found = []
    for keys in each(_batches(using)):
        with transaction_for(using):
            differences = _differences(keys, using)
            for one in differences:
                _store(one.key, using)
        found += differences
    return found


def _batches(using):
    keys = list(Inspection.objects.using(using).with_signature().order_by("pk").values_list("pk", flat=True))
    return [keys[first : first + AT_ONCE] for first in range(0, len(keys), AT_ONCE)]


def _differences(keys, using):
    signed = Inspection.objects.using(using)
    by_steps = Exists(signed.filter(pk=OuterRef("pk")).incomplete_by_steps())
    rows = signed.filter(pk__in=keys).annotate(by_steps=by_steps).order_by("pk")
    return [
        Difference(machine, key, "had no row" if is_complete is None else "differed in is_complete")
        for key, machine, is_incomplete, is_complete in rows.values_list(
            "pk", "machine", "by_steps", "completion__is_complete"
        )
        if is_complete is None or is_complete == is_incomplete
    ]


def _store(key, using):
    """Store the answer; the day of a signature stays as it was stored, whatever became of the site's time zone."""
    should_be = Completion.of(Inspection.objects.using(using).select_related("machine__area__site").get(pk=key))
    stored = Completion.objects.using(using).filter(pk=key)
    if not stored.update(is_complete=should_be.is_complete):
        should_be.save(using=using, force_insert=True)
