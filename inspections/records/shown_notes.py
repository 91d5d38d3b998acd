"""Remark, photographs and corrections of a step as a signed record holds them, for pages and paper.

Nothing of it is in records from before it was stored.
"""

from dataclasses import dataclass, field
from datetime import datetime

from fleet.place_format import current, with_decimal_sign
from inspections.models import Photograph


@dataclass(frozen=True, slots=True)
class ShownRemark:
    text: str
    by: str
    at: datetime


@dataclass(frozen=True, slots=True)
class ShownPhotograph:
    """A photograph that a record names. `row` is where its picture is stored; None if it is there no longer."""

    content: dict
    number: int
    step: str
    row: Photograph | None

    @property
    def caption(self):
        return self.content["caption"]

    @property
    def words(self):
        """What it shows, or which one it is."""
        return self.caption or f"Photograph {self.number} of {self.step}"

    @property
    def by(self):
        return self.content["by"]["name"]

    @property
    def at(self):
        return datetime.fromisoformat(self.content["at"])

    @property
    def digest(self):
        return self.content["digest"]

    @property
    def preview(self):
        """The small JPEG for paper, None unless it is the one that was signed for."""
        found = self.row and self.row.preview
        return bytes(found) if found and Photograph.digest_of(found) == self.content["preview"] else None


@dataclass(frozen=True, slots=True)
class ShownCorrection:
    """A reading that was replaced or taken back. `place` names it where it is not shown beside its place."""

    place: str
    text: str
    by: str
    at: datetime
    is_taken_back: bool = False

    @property
    def verb(self):
        return "taken back" if self.is_taken_back else "corrected"


class Cell(str):
    """The text of one cell of a table of readings, with the corrections of its place."""

    corrections: list = []


@dataclass(slots=True)
class Corrections:
    """The corrections of one step: `at` takes those of a place, `elsewhere` are those that nobody took."""

    by_place: dict = field(default_factory=dict)

    def at(self, place):
        return self.by_place.pop(place, [])

    def elsewhere(self):
        return [one for some in self.by_place.values() for one in some]


def shown_remark(content):
    remark = content.get("remark")
    return ShownRemark(remark["text"], remark["by"]["name"], datetime.fromisoformat(remark["at"])) if remark else None


def shown_photographs(content, title, pictures):
    """pictures  digest -> Photograph"""
    found = enumerate(content.get("photographs", []), start=1)
    return [ShownPhotograph(one, number, title, pictures.get(one["digest"])) for number, one in found]


def shown_corrections(content, label):
    """Return the Corrections of a step; `label` names a field or "table.column"."""
    standing = {_place(reading) for reading in content.get("readings", [])}
    found = Corrections()
    for one in content.get("corrections", []):
        place = _place(one)
        shown = ShownCorrection(
            _place_words(one, label), _text(one, label), one["replaced_by"]["name"],
            datetime.fromisoformat(one["replaced_at"]), place not in standing,
        )  # fmt: skip
        found.by_place.setdefault(place, []).append(shown)
    return found


def pictures_of(record, *, with_preview=False):
    """Map the digest of each photograph of a signed record to its row. No query for a record that names none."""
    return pictures_at(record.inspection_id, with_preview=with_preview) if names_photographs(record) else {}


def names_photographs(record):
    """Whether a signed record names any photograph."""
    return '"photographs":' in record.content


def pictures_at(inspection, *, with_preview=False):
    """Map the digest of each photograph at the steps of inspection number `inspection` to its row."""
    rows = Photograph.objects.in_place().filter(step__inspection=inspection)
    rows = rows.with_pictures().defer("content") if with_preview else rows
    return {row.digest: row for row in rows}


def _place(reading):
    return (reading["field"], reading["row"], reading["column"])


def _place_words(one, label):
    name = label(one["field"])
    if not one["column"]:
        return name
    column = label(f"{one['field']}.{one['column']}").lower()
    return f"{name}, row {one['row'] + 1}, {column}"


def _text(one, label):
    """The value as it was read; an instrument is named, since a correction may have changed nothing else."""
    choice = label(f"{one['field']}={one['as_read']}")
    if choice != f"{one['field']}={one['as_read']}":
        return choice
    if one["unit"] in ("", "yes/no"):
        return one["as_read"]
    zero = f" {one['zero']}" if one["zero"] else ""
    instrument = f", {one['instrument']}" if one["instrument"] else ""
    digits = "; ".join([one["as_read"], *one.get("read_again", "").split()])
    return f"{with_decimal_sign(digits, current().decimal)} {one['unit']}{zero}{instrument}"
