"""Numbers of inspections and machines, kept by a few of their columns: a page adds them up instead of counting rows.

An action renews the numbers that it touches as the last thing before its entry in the journal: first it locks their
rows, in one order, then it counts, so that of two actions the later counts what the earlier wrote.
"""

from dataclasses import dataclass
from functools import cache
from hashlib import sha256

from django.db import DEFAULT_DB_ALIAS

from fleet.acting.scope import open_scope, renew_counted, transaction_for
from fleet.models.querysets.prepared_queries import prepared
from inspections.kept_counts.tallies import TALLIES, bucket_of, touched
from inspections.models import KeptCount, KeptRules

NAME = "counts"
AT_ONCE = 500
RULES = 1  # to be raised with every change of what a tally counts


@dataclass(frozen=True, slots=True)
class Difference:
    """A number that was not as it should be; `location` is the key of its site or area."""

    location: int
    key: str
    words: str


@cache
def rules():
    return sha256(f"{RULES} {', '.join(tally.name for tally in TALLIES)}".encode()).hexdigest()[:16]


def renew_written(written, using, counted):
    """Renew the numbers that the written rows touch; at the end of an action."""
    buckets = touched(written, using, counted)
    if buckets and _is_kept(using):
        with transaction_for(using):
            _renew(buckets, using)


def counts_hold(using=DEFAULT_DB_ALIAS):
    """Return whether the numbers can be used; else a page counts. Not by an action that has written what is counted."""
    scope = open_scope(using)
    if scope is not None and scope.not_counted and not renew_counted(scope):
        return False
    return _is_kept(using)


def fill_counts(*, at, using=DEFAULT_DB_ALIAS, each=iter):
    """Renew every number, one tally in one transaction, and note that they hold. Return the Differences there were."""
    found = []
    for tally in each(TALLIES):
        with transaction_for(using):
            found += _renew(_all_buckets(tally, using), using)
            KeptCount.objects.using(using).filter(tally=tally.name, number=0).delete()
    with transaction_for(using):
        KeptRules.objects.using(using).update_or_create(
            kind=NAME, defaults={"rules": rules(), "day": None, "is_whole": True, "filled_at": at}
        )
    return found


def compare_counts(*, using=DEFAULT_DB_ALIAS, each=iter):
    """Yield every Difference and change nothing; none where the numbers are not used."""
    if counts_hold(using):
        for tally in each(TALLIES):
            buckets = _all_buckets(tally, using)
            rows = KeptCount.objects.using(using).filter(tally=tally.name)
            yield from _differences({row.key: row for row in rows}, _right(buckets, using), buckets)


def _all_buckets(tally, using):
    """Return the buckets that have a row and those that should have one, by their keys."""
    there = KeptCount.objects.using(using).filter(tally=tally.name)
    return {bucket.key: bucket for bucket in (*map(bucket_of, there), *tally.numbers(None, using))}


def _renew(buckets, using):
    buckets = {one.key: one for one in buckets} if not isinstance(buckets, dict) else buckets
    there = _locked(buckets, using)
    right = _right(buckets, using)
    found = _differences(there, right, buckets)
    rows = [KeptCount.of(buckets[one.key], right.get(one.key, 0)) for one in found]
    KeptCount.objects.using(using).bulk_create(
        rows, update_conflicts=True, unique_fields=["key"], update_fields=["number"], batch_size=AT_ONCE
    )
    return found


def _locked(buckets, using):
    """Return the rows of the buckets, locked in the order of their keys; those that are missing are made first."""
    there, rows = {}, KeptCount.objects.using(using)
    while missing := sorted(buckets.keys() - there.keys()):
        for first in range(0, len(missing), AT_ONCE):
            some = missing[first : first + AT_ONCE]
            there |= {row.key: row for row in rows.filter(pk__in=some).order_by("pk").select_for_update()}
        new = [KeptCount.of(buckets[key], 0) for key in missing if key not in there]
        rows.bulk_create(new, ignore_conflicts=True, batch_size=AT_ONCE)
    return there


def _right(buckets, using):
    """Return the numbers that are not 0, by key."""
    found = {}
    for tally in TALLIES:
        if some := [one for one in buckets.values() if one.tally == tally.name]:
            found |= {bucket.key: number for bucket, number in tally.numbers(some, using).items()}
    return found


def _differences(there, right, buckets):
    """Return the Differences of these buckets; a number that is not there is 0."""
    found = []
    for key, bucket in sorted(buckets.items()):
        was, should_be = there[key].number if key in there else 0, right.get(key, 0)
        if was != should_be:
            found.append(Difference(bucket.location, key, f"{key}: {was} instead of {should_be}"))
    return found


def _is_kept(using):
    if using == DEFAULT_DB_ALIAS:
        return bool(_filled_by_default(NAME, rules()))
    return KeptRules.objects.using(using).filter(kind=NAME, rules=rules()).exists()


@prepared
def _filled_by_default(kind, rules):
    return KeptRules.objects.filter(kind=kind, rules=rules)
