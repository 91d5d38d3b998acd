"""The plan of what a file would change, computed without changing anything."""

import hashlib
import json
from dataclasses import dataclass, field
from datetime import date

from django.db import models

from fleet.models import Area, Instrument, Machine, Site
from fleet.register_file import FileKind, Meanings, Problem
from fleet.register_file.cells import text_of

LONGEST_SHOWN = 160  # letters of a value that a problem shows
TOLD_EVERY = 200  # rows


@dataclass(frozen=True)
class Change:
    """One value that would change: the value now and the new one, as text for a page."""

    column: str
    before: str
    after: str


@dataclass(frozen=True)
class Addition:
    """A record that would be created: `cells` holds the text of the file, `fields` and `extra` the values."""

    row: int
    label: str
    cells: dict
    fields: dict
    extra: dict = field(default_factory=dict)


@dataclass(frozen=True)
class Correction:
    """A record that would be corrected, with its changes as text."""

    row: int
    label: str
    record: models.Model
    changes: tuple[Change, ...]
    fields: dict
    extra: dict = field(default_factory=dict)


@dataclass
class ImportPlan:
    """Every change of a file. With any problem nothing is imported, except of a plan whose other rows wait.

    waiting  number of each row that is not imported -> its key; its problems are among `waiting_problems`
    keys     of the rows that are imported
    """

    kind: FileKind
    problems: list = field(default_factory=list)
    created: list = field(default_factory=list)
    updated: list = field(default_factory=list)
    unchanged: int = 0
    waiting: dict = field(default_factory=dict)
    waiting_problems: list = field(default_factory=list)
    keys: list = field(default_factory=list)

    @property
    def is_ready(self):
        return not self.problems and bool(self.created or self.updated)

    @property
    def all_problems(self):
        return self.problems or self.waiting_problems

    def fingerprint(self):
        """A short text that differs when the plan differs, so that a stale preview is recognised."""
        said = [[p.row, p.column, p.message] for p in self.all_problems]
        said += [[n.row, n.label, sorted(n.cells.items())] for n in self.created]
        said += [[u.row, u.record.pk, [[c.column, c.before, c.after] for c in u.changes]] for u in self.updated]
        counts = [self.unchanged, len(self.waiting)]
        return hashlib.sha256(json.dumps([*said, *counts]).encode()).hexdigest()[:32]


@dataclass(frozen=True)
class Scope:
    """The records that the importing person may change, as querysets; no date may be after `today`.

    counts_as  procedure that earlier inspections count as where their row does not say
    meanings   what values of the file mean, as people answered
    """

    machines: models.QuerySet
    areas: models.QuerySet
    sites: models.QuerySet
    instruments: models.QuerySet
    today: date
    counts_as: str = ""
    meanings: Meanings = Meanings()  # noqa: RUF009

    @classmethod
    def of(cls, person, today, counts_as="", meanings=Meanings()):  # noqa: B008
        """Return the scope of `person`; everything for None, which means a command."""
        found = [model.objects.all() for model in (Machine, Area, Site, Instrument)]
        if person is not None:
            found = [rows.visible_to(person) for rows in found]
        return cls(*found, today, counts_as, meanings)


def plan_rows(parsed, rows, plan_row, tell):
    """Return the plan of a file, its problems by row.

    plan_row  function of the plan, one of `rows`, and the (row, column) pairs that had a problem when the file was
              read; it adds what the row would change, or its problems
    """
    plan = ImportPlan(parsed.kind, problems=list(parsed.problems))
    told = {(found.row, found.column) for found in plan.problems}
    for done, row in enumerate(rows):
        if done % TOLD_EVERY == 0:
            tell(done, len(rows), "Comparing with the register")
        plan_row(plan, row, told)
    plan.problems.sort(key=lambda found: found.row)
    return plan


def problem(row, column, message, accepted, about="", within=""):
    value = words(row.values.get(column))[:LONGEST_SHOWN]
    return Problem(row.number, column, value, message, accepted, about, within)


def listed(names, most=12):
    """Return the accepted values as text, shortened if there are many."""
    shown = ", ".join(names[:most])
    return f"{shown} and {len(names) - most} more." if len(names) > most else shown


def words(value):
    """Return the text of a value in a preview."""
    if value is None:
        return ""
    if isinstance(value, list):
        return f"{text_of(value[0])} {value[1]}"
    return text_of(value)


def cells_of(row):
    return {name: words(value) for name, value in row.values.items()}


def same(old, new):
    """Return whether a value of a file equals the register's, ignoring outer blanks and the kind of line end."""
    if isinstance(old, str) and isinstance(new, str):
        return " ".join(old.split()) == " ".join(new.split()) if "\n" not in old + new else _lines(old) == _lines(new)
    return old == new


def _lines(text):
    return text.replace("\r\n", "\n").replace("\r", "\n").strip()


def differences(record, fields):
    """Return the fields that differ from the record's, and the changes as text."""
    changed = {name: value for name, value in fields.items() if not same(getattr(record, name), value)}
    return changed, [Change(name, words(getattr(record, name)), words(value)) for name, value in changed.items()]


def needed_problems(row, kind, told):
    """Return the problems of a new record's row: required columns that are missing and not reported yet."""
    missing = [name for name in kind.needed if name not in row.values and (row.number, name) not in told]
    accepted = f"a value, since this {kind.one} is new to the register."
    return [problem(row, name, "is missing.", accepted) for name in missing]
