"""What a file would change, worked out without changing anything."""

import hashlib
import json
from dataclasses import dataclass, field
from datetime import date

from django.db import models

from fleet.models import Area, Instrument, Machine, Site
from fleet.register_file import FileKind, Problem
from fleet.register_file.cells import text_of


@dataclass(frozen=True)
class Change:
    """One value that would change: what it is now and what it would be, in words fit for a page."""

    column: str
    before: str
    after: str


@dataclass(frozen=True)
class Addition:
    """A record that would be created: `cells` is what the file says, `fields` and `extra` are for carrying it out."""

    row: int
    label: str
    cells: dict
    fields: dict
    extra: dict = field(default_factory=dict)


@dataclass(frozen=True)
class Correction:
    """A record that would be corrected, with what changes in words."""

    row: int
    label: str
    record: models.Model
    changes: tuple[Change, ...]
    fields: dict
    extra: dict = field(default_factory=dict)


@dataclass
class ImportPlan:
    """All that a file would do. With any problem it does nothing."""

    kind: FileKind
    problems: list = field(default_factory=list)
    created: list = field(default_factory=list)
    updated: list = field(default_factory=list)
    unchanged: int = 0

    @property
    def is_ready(self):
        return not self.problems and bool(self.created or self.updated)

    def fingerprint(self):
        """A short text that differs when the plan differs, so that a stale preview is recognised."""
        said = [[p.row, p.column, p.message] for p in self.problems]
        said += [[n.row, n.label, sorted(n.cells.items())] for n in self.created]
        said += [[u.row, u.record.pk, [[c.column, c.before, c.after] for c in u.changes]] for u in self.updated]
        return hashlib.sha256(json.dumps([*said, self.unchanged]).encode()).hexdigest()[:32]


@dataclass(frozen=True)
class Scope:
    """What the importing person may change, as querysets; nothing can have happened after `today`.

    counts_as  procedure that earlier inspections count as where their row does not say
    """

    machines: models.QuerySet
    areas: models.QuerySet
    sites: models.QuerySet
    instruments: models.QuerySet
    today: date
    counts_as: str = ""

    @classmethod
    def of(cls, person, today, counts_as=""):
        """What `person` may change; everything for None, as by a command."""
        found = [model.objects.all() for model in (Machine, Area, Site, Instrument)]
        if person is not None:
            found = [rows.visible_to(person) for rows in found]
        return cls(*found, today, counts_as)


def problem(row, column, message, accepted):
    return Problem(row.number, column, words(row.values.get(column))[:80], message, accepted)


def listed(names, most=12):
    """Name what is accepted, but not hundreds of them."""
    shown = ", ".join(names[:most])
    return f"{shown} and {len(names) - most} more." if len(names) > most else shown


def words(value):
    """A value as a preview shows it."""
    if value is None:
        return ""
    if isinstance(value, list):
        return f"{text_of(value[0])} {value[1]}"
    return text_of(value)


def cells_of(row):
    return {name: words(value) for name, value in row.values.items()}


def same(old, new):
    """Whether a value of a file is what the register holds; blanks around it and the sort of line end do not count."""
    if isinstance(old, str) and isinstance(new, str):
        return " ".join(old.split()) == " ".join(new.split()) if "\n" not in old + new else _lines(old) == _lines(new)
    return old == new


def _lines(text):
    return text.replace("\r\n", "\n").replace("\r", "\n").strip()


def differences(record, fields):
    """Return the fields that differ from the record's, and the changes in words."""
    changed = {name: value for name, value in fields.items() if not same(getattr(record, name), value)}
    return changed, [Change(name, words(getattr(record, name)), words(value)) for name, value in changed.items()]


def needed_problems(row, kind, told):
    """The problems of a new record's row: columns that it needs, has not, and that are not complained of already."""
    missing = [name for name in kind.needed if name not in row.values and (row.number, name) not in told]
    accepted = f"a value, since this {kind.one} is new to the register."
    return [problem(row, name, "is missing.", accepted) for name in missing]
