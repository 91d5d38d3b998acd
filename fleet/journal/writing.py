"""Add links to the journal. The head is locked last, so an action holds the lock only while it writes one small row."""

import json
import secrets
from dataclasses import dataclass
from typing import NamedTuple

from django.db import connections
from django.db.models import Max
from django.utils import timezone

from fleet.acting.covered import columns_of, exempt_condition, layout_name, layout_of
from fleet.acting.keys import conditions_on
from fleet.acting.rows import plain_value, read_states
from fleet.canonical import canonical_json, digest_of
from fleet.models import JournalEntry, JournalHead, JournalLink

FIRST = "0" * 64  # the digest before the first link
FORMAT = 1
ENTRY = ("batch", "position", "table", "row", "layout", "state")  # what a verification reads of an entry
LINKS_AT_ONCE = 100
MOST_ENTRIES = 1000  # entries of one link, so that verification uses bounded memory
FOUND = "found"  # action of rows that existed when the journal began, or that a migration wrote


@dataclass(frozen=True, slots=True)
class State:
    """The newest state of a row in the journal: the columns and their values, or None for a removed row.

    An altered entry may have columns and values that do not match; it is ignored here, and its link reports it.
    """

    columns: tuple
    values: list | None

    def as_dict(self):
        fits = self.values is not None and len(self.values) == len(self.columns)
        return dict(zip(self.columns, self.values, strict=True)) if fits else {}


class Entry(NamedTuple):
    """A JournalEntry as plain values, in the order of its columns."""

    batch: int
    position: int
    table: str
    row: int
    layout: str
    state: str


def write_links(written, *, name, by=None, at=None, mode, using):
    """Journal the present state of every row in `written`: model -> key -> state before the action, or None."""
    entries, altered = [], []
    for model, before in written.items():
        now = read_states(model, before, using)
        altered += _altered_before(model, before, using)
        changed = (pk for pk in sorted(before) if now.get(pk) != before[pk])
        entries += [(model, pk, now.get(pk)) for pk in changed]
    if entries or altered:
        says = {"action": name, "by": by, "at": plain_value(at), "mode": mode}
        add_links(entries, says | ({"altered_before": altered} if altered else {}), using=using)


def add_links(entries, says, *, using):
    """Journal (model, key, state) triples; many are split over several links. A state of None means removed."""
    parts = range(0, max(len(entries), 1), MOST_ENTRIES)
    _append([{**_bound(entries[first : first + MOST_ENTRIES], using), **says} for first in parts], using)


def _bound(entries, using):
    """Store the entries of one link. Return what the link says of them."""
    batch, tables = secrets.randbits(62), {}
    for model, *_ in entries:
        tables.setdefault(model, (model._meta.db_table, layout_of(model)))
    rows = []
    for position, (model, pk, state) in enumerate(entries, start=1):
        table, layout = tables[model]
        rows.append((batch, position, table, pk, layout, "" if state is None else canonical_json(state)))
    _insert(rows, using)
    return {
        "format": FORMAT,
        "batch": batch,
        "entries": len(rows),
        "sha256": digest_of_entries(rows),
        "layouts": {layout: [table, *columns_of(model)] for model, (table, layout) in tables.items()},
    }


def _insert(rows, using):
    """Insert entries as they are: whole numbers and texts, which need no conversion of Django's for each value."""
    quoted = connections[using].ops.quote_name
    columns = ", ".join(quoted(JournalEntry._meta.get_field(name).column) for name in Entry._fields)
    marks = ", ".join(["%s"] * len(Entry._fields))
    with connections[using].cursor() as cursor:
        cursor.executemany(f"INSERT INTO {quoted(JournalEntry._meta.db_table)} ({columns}) VALUES ({marks})", rows)


def _append(contents, using):
    """Add a link for each content, each bound to the one before; the clock is the server's, whatever an action says."""
    heads = JournalHead.objects.using(using)
    head = heads.select_for_update().first() or heads.create(pk=1, digest=FIRST)
    now, sequence, digest, links = timezone.now(), head.sequence, head.digest, []
    for content in contents:
        place = {"sequence": sequence + 1, "previous": digest}
        text = canonical_json({**content, **place, "recorded_at": plain_value(now)})
        sequence, digest = place["sequence"], digest_of(text)
        links.append(JournalLink(batch=content["batch"], content=text, digest=digest, recorded_at=now, **place))
    JournalLink.objects.using(using).bulk_create(links, batch_size=LINKS_AT_ONCE)
    heads.filter(pk=head.pk).update(sequence=sequence, digest=digest, recorded_at=now)


def digest_of_entries(entries):
    """The digest of the entries of one link, each with the values of ENTRY, in the order of their positions."""
    lines = [f"{position} {table} {row} {layout} {state}\n" for _, position, table, row, layout, state in entries]
    return digest_of("".join(lines))


def _newest_entries(model, keys, using):
    """Map each of these keys to the newest Entry of its row in the journal; unknown rows are left out."""
    found = {}
    entries = JournalEntry.objects.using(using).filter(table=model._meta.db_table)
    for condition in conditions_on("row", keys):
        part = entries.filter(**condition).order_by().values("row")
        newest = part.annotate(newest=Max("id")).values("newest")
        rows = JournalEntry.objects.using(using).filter(pk__in=newest).order_by()
        found |= {entry.row: entry for entry in map(Entry._make, rows.values_list(*ENTRY))}
    return found


def values_of_entry(entry):
    """Return the values of an entry, None for a removed row; an empty list if it cannot be read."""
    if not entry.state:
        return None
    try:
        values = json.loads(entry.state)
    except ValueError:
        return []
    return values if isinstance(values, list) else []


def columns_of_entry(model, entry, using):
    """Return the columns of an entry; none if its link does not name them."""
    if entry.layout == layout_of(model):
        return columns_of(model)
    link = JournalLink.objects.using(using).filter(batch=entry.batch).first()
    try:
        table, *columns = json.loads(link.content)["layouts"][entry.layout]
    except (AttributeError, ValueError, KeyError, TypeError):
        return ()
    return tuple(columns) if layout_name(table, columns) == entry.layout else ()


def _altered_before(model, before, using):
    """Return what was altered before the action, outside of any action since the newest entry."""
    there = {pk: state for pk, state in before.items() if state is not None}
    newest = _newest_entries(model, there, using) if there else {}
    unknown = _not_exempt(model, there.keys() - newest.keys(), using)
    found, layout = [], layout_of(model)
    for pk, state in there.items():
        if pk in newest:
            if newest[pk].layout != layout or newest[pk].state != canonical_json(state):  # nearly never
                found += _altered(model, newest[pk], state, using)
        elif pk in unknown:
            found.append({"kind": "inserted", "table": model._meta.db_table, "row": pk})
    return found


def _altered(model, entry, state, using):
    said = State(columns_of_entry(model, entry, using), values_of_entry(entry))
    return differing(model, entry.row, said, dict(zip(columns_of(model), state, strict=True)))


def _not_exempt(model, keys, using):
    condition = exempt_condition(model)
    if not keys or condition is None:
        return keys
    return keys - set(model._base_manager.using(using).filter(condition, pk__in=keys).values_list("pk", flat=True))


def differing(model, pk, said, now):
    """Return what differs between the journal's State and the row, as plain data.

    now  column -> value, for the columns of the table; None without a row
    """
    table = {"table": model._meta.db_table, "row": pk}
    if said.values is None or now is None:
        kind = None if said.values is None and now is None else "removed" if now is None else "inserted"
        return [{"kind": kind, **table}] if kind else []
    return [
        {"kind": "altered", **table, "column": column, "expected": value, "found": now[column]}
        for column, value in said.as_dict().items()
        if column in now and now[column] != value
    ]
