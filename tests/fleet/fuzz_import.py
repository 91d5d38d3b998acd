"""Mutate the stored register files, byte by byte and cell by cell, and import the results.

    python -m tests.fleet.fuzz_import --files 2000 --seed 1

Whatever a file holds, only Refused may be raised, an import is complete or absent, and a second import changes
nothing. The database is a throw-away one in memory.
"""

import argparse
import csv
import io
import os
import random
import sys
import zipfile
from collections import Counter
from contextlib import contextmanager
from dataclasses import dataclass, replace

BYTES = (b"\0", b"\r", b"\n", b'"', b",", b";", b"\t", b"\xff", b"\xef\xbb\xbf", b"'", b"=", "é".encode(), b"\xe9")
CELLS = (
    "", " ", "A-1", "a-1", "M-1", "=1+1", "'=1", "-", "?", "y", "N", "n/k", "31/03/1985", "03/04/1985", "1985-02-30",
    "31 Mar 1985", "1985", "0", "-1", "1e99", "1,5", "1.234,5", "1,234", "NaN", "inf", "٣", "22/15", "30mm", "#N/A",
    "Total", "three", "north", "Theatre 1", "in service", "retired", "x" * 3000, "a\nb", "\ufffd", "\u2028", "\x07",
    "😀", "pressure", "kPa", "45 psi", "45 psi gauge", "asset_number", "9999-12-31", "0001-01-01", "1.23E+11",
)  # fmt: skip
TYPED = (0, 1, -1, 1.5, 1e300, 12345678901234567890, True, False, 33419, 2_958_466, "=1+1", "=A1")
ORDERS = ("iso", "day", "month")


@dataclass(frozen=True)
class Mutant:
    name: str
    kind: object
    said: object
    data: bytes


def mutant(number, sources, rng):
    """Return a file with one to three changes; mostly one that was valid."""
    right = [name for name, (case, _) in sources.items() if case.made]
    name = rng.choice(sorted(right if rng.random() < 0.7 else sources))
    case, data = sources[name]
    for change in rng.choices((_bytes, _cells, _halves), (3, 6, 1), k=rng.randint(1, 3)):
        data = change(data, rng, sources)
    return Mutant(f"{number} from {name}", case.kind, case.said, data)


def _bytes(data, rng, sources):
    if data.startswith(b"PK") and rng.random() < 0.7:
        return _part(data, rng)
    return _noise(data, rng)


def _noise(data, rng):
    place = rng.randint(0, len(data))
    new = rng.choice(BYTES) if rng.random() < 0.7 else bytes([rng.randrange(256)])
    way = rng.randrange(4)
    if way == 0:
        return data[:place] + new + data[place:]
    if way == 1:
        return data[:place] + new + data[place + len(new) :]
    if way == 2:
        return data[:place] + data[place + rng.randint(1, 40) :]
    return data[:place] + data[max(0, place - rng.randint(1, 200)) :]


def _part(data, rng):
    """Mutate one part inside the archive, so that its checksum is valid."""
    out = io.BytesIO()
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w") as new:
            names = old.namelist()
            chosen = rng.choice(names)
            for name in names:
                content = old.read(name)
                new.writestr(name, _noise(content, rng) if name == chosen else content)
    except Exception:  # broken by an earlier mutation
        return _noise(data, rng)
    return out.getvalue()


def _cells(data, rng, sources):
    if data.startswith(b"PK"):
        return _workbook_cells(data, rng)
    try:
        rows = list(csv.reader(io.StringIO(data.decode("utf-8"), newline="")))
    except (UnicodeDecodeError, csv.Error):
        return _noise(data, rng)
    if not rows:
        return _noise(data, rng)
    _change_rows(rows, rng)
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=rng.choice((",", ",", ";", "\t"))).writerows(rows)
    return out.getvalue().encode(rng.choice(("utf-8", "utf-8", "utf-8", "utf-8-sig", "utf-16")), errors="replace")


def _change_rows(rows, rng):
    row = rng.choice(rows)
    way = rng.randrange(5)
    if way == 0:
        rows.insert(rng.randrange(len(rows) + 1), list(row))
    elif way == 1 and row:
        row.pop(rng.randrange(len(row)))
    elif way == 2:
        row.insert(rng.randint(0, len(row)), rng.choice(CELLS))
    elif row:
        row[rng.randrange(len(row))] = rng.choice(CELLS)


def _workbook_cells(data, rng):
    from openpyxl import load_workbook
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

    try:
        book = load_workbook(io.BytesIO(data))
        sheet = book.worksheets[rng.randrange(len(book.worksheets))]
        value = rng.choice((*CELLS, *TYPED))
        value = ILLEGAL_CHARACTERS_RE.sub("", value) if isinstance(value, str) else value
        sheet.cell(rng.randint(1, 6), rng.randint(1, 10)).value = value
        if rng.random() < 0.2:
            sheet.merge_cells(start_row=2, end_row=rng.randint(2, 5), start_column=rng.randint(1, 7), end_column=7)
        out = io.BytesIO()
        book.save(out)
    except Exception:  # broken by an earlier mutation
        return _noise(data, rng)
    return out.getvalue()


def _halves(data, rng, sources):
    other = sources[rng.choice(sorted(sources))][1]
    return data[: rng.randint(0, len(data))] + other[rng.randint(0, len(other)) :]


def read(one, rng):
    """Parse a mutant, answering questions at random; None for the plan while a question is open."""
    from fleet.imports import Scope, parse_upload, plan_import
    from tests.factories import TODAY

    settings = one.said if rng.random() < 0.5 else type(one.said)()
    for _ in range(3):
        parsed = parse_upload(one.data, one.kind, settings)
        asked = {question.about for question in parsed.open_questions}
        if not asked:
            return parsed, plan_import(parsed, Scope.of(None, TODAY))
        settings = _answered(settings, parsed, asked, rng)
    return parsed, None


def _answered(settings, parsed, asked, rng):
    source = parsed.table.source
    if "encoding" in asked:
        settings = replace(settings, encoding=source.encoding)
    if "sheet" in asked:
        settings = replace(settings, sheet=source.sheet)
    if "dates" in asked:
        settings = replace(settings, date_order=rng.choice(ORDERS))
    if "columns" in asked:
        free = [name for name in parsed.kind.columns if name not in parsed.columns]
        columns = {one.label: one.column for one in parsed.mapped}
        unknown = [label for label, column in columns.items() if not column]
        if unknown and free:
            columns[rng.choice(unknown)] = parsed.kind.sign if parsed.kind.sign in free else rng.choice(free)
        settings = replace(settings, columns=columns)
    return settings


def import_one(one, rng):
    """Import a mutant and roll it back. Return the result; raise AssertionError if it is incomplete."""
    from django.db import transaction

    from fleet.errors import Refused
    from fleet.imports import Scope, plan_import
    from fleet.imports.uploads import import_register
    from tests.factories import NOON, TODAY

    parsed, plan = read(one, rng)
    if plan is None:
        return "asked"
    if not plan.is_ready:
        assert plan.problems or plan.unchanged, f"{one.name}: neither a problem nor anything to do"
        return "problems" if plan.problems else "nothing new"
    with _taken_back():
        before = counts()
        try:
            with transaction.atomic():
                import_register(plan, by=None, at=NOON, source="fuzz")
        except Refused:
            assert counts() == before, f"{one.name}: refused, but half saved"
            return "refused"
        again = plan_import(parsed, Scope.of(None, TODAY))
        assert not (again.created or again.updated or again.problems), f"{one.name}: says something new twice"
    return "imported"


@contextmanager
def _taken_back():
    from django.db import transaction

    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def counts():
    from django.apps import apps

    return {model.__name__: model.objects.count() for model in apps.get_app_config("fleet").get_models()}


def prepare():
    """Make the records that the stored files name."""
    from tests.factories import make_area, make_machine, make_model, make_site

    north = make_site(code="north")
    make_area(north, name="Théâtre 2")
    model = make_model(code="three", features={"ratio-protection": "not fitted"})
    make_machine(asset_number="M-1", model=model, area=make_area(north, name="Theatre 1"))


def run(files, seed, tell=lambda done: None):
    """Import mutants in the present database, which `prepare` has filled. Return a Counter of the results."""
    from tests.fleet.imports.odd_files import CASES, FOLDER

    sources = {name: (case, (FOLDER / name).read_bytes()) for name, case in CASES.items()}
    found = Counter()
    for number in range(files):
        rng = random.Random(f"{seed}-{number}")
        one = mutant(number, sources, rng)
        try:
            found[import_one(one, rng)] += 1
        except Exception as error:
            raise AssertionError(f"seed {seed}, file {one.name}: {type(error).__name__}: {error}") from error
        tell(number + 1)
    return found


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--files", type=int, default=2000)
    parser.add_argument("--seed", default="1")
    asked = parser.parse_args()
    os.environ["DJANGO_SETTINGS_MODULE"] = "config.settings"
    os.environ["DATABASE_URL"] = "sqlite://:memory:"
    import django

    django.setup()
    from django.db import connection

    connection.creation.create_test_db(verbosity=0)
    prepare()
    found = run(asked.files, asked.seed, _tell)
    print(
        f"{asked.files} mutated files, seed {asked.seed}: "
        + ", ".join(f"{n} {what}" for what, n in found.most_common())
    )


def _tell(done):
    if done % 100 == 0:
        print(done, file=sys.stderr)


if __name__ == "__main__":
    main()
