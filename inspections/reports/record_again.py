"""The paper of a record that this process printed before, while everything that it is printed from is the same.

The newest papers stay in the memory of the process, never in a file or a store that another program could write to. The
check of a printed record compares with what is printed anew.
"""

import hashlib
import threading
from collections import OrderedDict

from inspections.models import Photograph
from inspections.records.shown_notes import names_photographs
from inspections.reports.proof import entries_of, layout
from inspections.reports.record import write_record

MOST_BYTES = 16_000_000  # of all papers together, in each process


class Papers:
    """Papers by what they were printed from; the one that was asked for longest ago leaves first."""

    def __init__(self, most_bytes):
        self.most_bytes = most_bytes
        self._held, self._lock = OrderedDict(), threading.Lock()

    def find(self, key):
        with self._lock:
            if key in self._held:
                self._held.move_to_end(key)
            return self._held.get(key)

    def keep(self, key, paper):
        with self._lock:
            self._held[key] = paper
            while sum(map(len, self._held.values())) > self.most_bytes:
                self._held.popitem(last=False)

    def clear(self):
        with self._lock:
            self._held.clear()


PAPERS = Papers(MOST_BYTES)


def record_paper(inspection, amendments) -> bytes:
    """Return what `write_record` returns; from memory where the same was printed before. Raises NotSigned."""
    key = inspection.is_signed and _printed_from(inspection, amendments)
    found = PAPERS.find(key) if key else None
    if found is None:
        found = write_record(inspection, amendments)
        if key:
            PAPERS.keep(key, found)
    return found


def _printed_from(inspection, amendments):
    """Return a digest of all that the paper shows or that decides how it looks; None for a record of no chain."""
    entries = entries_of(inspection)
    if not entries:
        return None
    record = inspection.record
    said = [(one.pk, one.step_id, str(one.step), one.correction, one.reason, one.at) for one in amendments]
    chained = [(one.sequence, one.kind, one.digest, one.content, one.at) for one in entries]
    digest = hashlib.sha256(record.content.encode())
    digest.update(repr((inspection.pk, record.digest, chained, said, _photographs(record), layout())).encode())
    digest.update(repr(inspection.machine.site.time_zone).encode())  # of records that froze no format
    return digest.hexdigest()


def _photographs(record):
    if not names_photographs(record):
        return []
    there = Photograph.objects.in_place().filter(step__inspection=record.inspection_id)
    return list(there.order_by("pk").values_list("pk", "digest", "preview_digest"))
