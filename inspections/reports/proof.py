"""What a printed record says of its place in the chain, and the mark in the file by which it is found again."""

import hashlib
import json
import re
from copy import copy
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path

from fleet.models import Person
from inspections.models import ChainEntry

SHORT = 16
MARK = re.compile(
    r"bobbin-record 1 inspection=(?P<inspection>\d+) record=(?P<record>[0-9a-f]{64}) site=(?P<site>\d+) "
    r"entry=(?P<entry>\d+) sha256=(?P<digest>[0-9a-f]{64}) newest=(?P<newest>\d+) layout=(?P<layout>[0-9a-f]{12})"
)
ROOT = Path(__file__).resolve().parents[2]
LAYOUT = (
    "fleet/documents/*.py", "fleet/drawing/*.py", "inspections/drawing/*.py", "inspections/reports/record*.py",
    "inspections/reports/proof.py", "inspections/result_display.py", "inspections/records/signed_record.py",
    "inspections/records/shown_notes.py", "inspections/records/repairs_in_words.py", "inspections/bench/serialise.py",
    "fleet/place_format/*.py", "fleet/catalogue/dimensions.toml",
)  # fmt: skip


def entries_of(inspection, newest=None):
    """The entries of the chain about one record, the signature first, up to number `newest`; none if it has none."""
    entries = ChainEntry.objects.filter(inspection=inspection.pk).select_related("site").order_by("sequence")
    return list(entries if newest is None else entries.filter(sequence__lte=newest))


def as_of(inspection, amendments, entries):
    """The inspection and its amendments as the entries hold them: only those, by the names of that day."""
    if not entries:
        return inspection, amendments
    inspection, names = copy(inspection), {}
    inspection._state = copy(inspection._state)
    inspection._state.fields_cache = dict(inspection._state.fields_cache)
    inspection.countersigned_by = inspection.countersigned_at = None
    for entry in entries:
        if entry.kind == "countersigned":
            inspection.countersigned_by, inspection.countersigned_at = _named(entry), entry.at
        elif entry.kind == "amended":
            names[entry.amendment_id] = _named(entry)
    kept = [copy(amendment) for amendment in amendments if amendment.pk in names]
    for amendment in kept:
        amendment._state = copy(amendment._state)
        amendment._state.fields_cache = dict(amendment._state.fields_cache)
        amendment.by = names[amendment.pk]
    return inspection, kept


def _named(entry):
    """Who an entry names, as they were called then; not saved."""
    return Person(first_name=json.loads(entry.content)["name"])


def mark_of(inspection, entries):
    """The mark that goes into the properties of the file; empty for a record that no chain holds."""
    if not entries:
        return ""
    signed = entries[0]
    return (
        f"bobbin-record 1 inspection={inspection.pk} record={inspection.record.digest} site={signed.site_id} "
        f"entry={signed.sequence} sha256={signed.digest} newest={entries[-1].sequence} layout={layout()}"
    )


def short(digest):
    return f"{digest[:SHORT]}…"


@lru_cache(1)
def layout():
    """Twelve digits that change with whatever sets the words of a record on paper."""
    digest = hashlib.sha256(f"{version('reportlab')} {version('pillow')}".encode())
    for path in sorted(path for pattern in LAYOUT for path in ROOT.glob(pattern)):
        digest.update(path.read_bytes())
    return digest.hexdigest()[:12]
