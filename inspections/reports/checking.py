"""Check a printed record against the store: is it what Bobbin would print, was anything added since, was it altered.

The paper is made again from the signed content, as of the entry that it knew last. The same state gives the same bytes.
"""

from dataclasses import dataclass, field
from enum import StrEnum

from fleet.confined import AT_ONCE, Busy, Exceeded, run_confined
from fleet.errors import FileRefused
from inspections.chain.verification import verify_inspection
from inspections.models import ChainEntry, Inspection
from inspections.reports.proof import MARK, entries_of, layout
from inspections.reports.record import write_record
from inspections.reports.sources import for_record

MOST_BYTES = 20 * 1024 * 1024
ACCEPTED = "Accepted: the PDF of a record as printed by Bobbin."


class Verdict(StrEnum):
    GENUINE = "genuine"
    SUPERSEDED = "superseded"
    SAVED_AGAIN = "saved again"
    OTHER_LAYOUT = "other layout"
    ALTERED = "altered"
    NOT_IN_STORE = "not in the store"
    STORE_ALTERED = "store altered"
    NO_RECORD = "no record"


SENTENCES = {
    Verdict.GENUINE: "The PDF matches the stored record exactly. Nothing has been added since.",
    Verdict.SUPERSEDED: "The PDF matched the record exactly when it was printed. Something has been added since.",
    Verdict.SAVED_AGAIN: "The text matches the stored record, but another program has saved the file. Drawings were "
    "not compared: if they matter, print the record from Bobbin again.",
    Verdict.OTHER_LAYOUT: "Another version of Bobbin printed this PDF, which alone can explain any differences below. "
    "Compare the lines, or print the record again.",
    Verdict.ALTERED: "This PDF is not as Bobbin printed it. The lines below differ from the stored record.",
    Verdict.NOT_IN_STORE: "The file claims to be a record, but the database has no such entry: the entry was "
    "removed, the "
    "file comes from another installation, or it was forged.",
    Verdict.STORE_ALTERED: "The stored record itself is not as it was signed, so it cannot confirm this PDF.",
    Verdict.NO_RECORD: "This is not a record printed by Bobbin, or its mark was removed.",
}


@dataclass(frozen=True, slots=True)
class PaperCheck:
    """What a check found. `differences` are (in the store, on the paper), `since` entries that the paper lacks."""

    verdict: Verdict
    inspection: Inspection | None = None
    differences: list = field(default_factory=list)
    since: list = field(default_factory=list)
    troubles: list = field(default_factory=list)

    @property
    def sentence(self):
        return SENTENCES[self.verdict]

    @property
    def is_good(self):
        return self.verdict in (Verdict.GENUINE, Verdict.SUPERSEDED)


def check_paper(data, inspections=None, limits=AT_ONCE):
    """Check the bytes of a PDF. `inspections` are those that whoever asks may see, all by default.

    Raises FileRefused for one that takes more to read than the limits, and while too many files are being read.
    """
    mark, lines = _read(data, limits)
    if mark is None:
        return PaperCheck(Verdict.NO_RECORD)
    inspections = Inspection.objects.all() if inspections is None else inspections
    inspection = for_record(inspections).filter(pk=int(mark["inspection"][:18])).first()
    if inspection is None or not _knows(mark):
        return PaperCheck(Verdict.NOT_IN_STORE)
    troubles = list(verify_inspection(inspection))
    if troubles:
        return PaperCheck(Verdict.STORE_ALTERED, inspection, troubles=troubles)
    return _compare(data, lines, mark, inspection, limits)


def _read(data, limits):
    """The mark and the lines of a PDF; (None, []) if it is none, or one that cannot be read."""
    if len(data) > MOST_BYTES:
        return None, []
    keywords, lines, too_long = _apart("paper_text", data, limits=limits)
    if too_long:
        raise FileRefused(f"{too_long} {ACCEPTED}")
    mark = MARK.fullmatch(keywords)
    return mark, lines if mark else []


def _apart(function, *arguments, limits):
    """Call a function of paper_text.py in a process of its own. Raise FileRefused for what takes too much."""
    try:
        return run_confined(f"inspections.reports.paper_text:{function}", *arguments, limits=limits)
    except Busy:
        raise FileRefused("Other files are being read at the moment. Send the file again shortly.") from None
    except Exceeded as exceeded:
        raise FileRefused(f"{exceeded} {ACCEPTED}") from None


def _knows(mark):
    place = {"site": int(mark["site"][:18]), "sequence": int(mark["entry"][:9]), "kind": "signed"}
    return ChainEntry.objects.filter(**place, inspection=int(mark["inspection"]), digest=mark["digest"]).exists()


def _compare(data, lines, mark, inspection, limits):
    newest = int(mark["newest"][:9])
    amendments = list(inspection.amendments.select_related("by", "step"))
    again = write_record(inspection, amendments, newest=newest)
    since = [entry for entry in entries_of(inspection) if entry.sequence > newest]
    if again == data:
        return PaperCheck(Verdict.SUPERSEDED if since else Verdict.GENUINE, inspection, since=since)
    differences = _apart("paper_differences", again, lines, limits=limits)
    if mark["layout"] != layout():
        verdict = Verdict.OTHER_LAYOUT
    else:
        verdict = Verdict.ALTERED if differences else Verdict.SAVED_AGAIN
    return PaperCheck(verdict, inspection, differences, since)
