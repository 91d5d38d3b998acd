"""Hostile text in every column and header of every kind of file: shown as text, stored unchanged, exported harmless."""

import csv
import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from config.controls import mark_of
from fleet.imports import IMPORTERS, Scope, parse_upload, plan_import
from fleet.imports.jobs import WRITERS
from fleet.imports.uploads import import_register
from fleet.models import EarlierInspection, Instrument, Machine
from fleet.register_file import Settings
from fleet.register_file.columns import ColumnKind
from tests.factories import NOON, TODAY, make_area, make_machine, make_model, make_person
from tests.hostile.looking import look_at_file, look_at_page
from tests.hostile.payloads import ADDRESS, PAYLOADS, TAG, WORD

# The payloads that the import accepts.
TEXTS = [
    f"=1+{WORD}",
    f'@{WORD}" hx-get="{ADDRESS}" hx-trigger="load"',
    f"<{TAG} hx-post={ADDRESS} hx-trigger=load>",
    f"'-{WORD}&<b><font",
    f"ü<{TAG}/hx-get={ADDRESS}>",
    f"{WORD}\u200b\u200frtl",
    "1E5",
    "+44 1E+10",
    "’=1",
    "＝1+1",
]
FIXED = {
    "machines": {"model": "three", "in_use_from": "2019-03-31"},
    "instruments": {},
    "certificate-points": {"unit": "kPa", "reference": "100", "reading": "99", "uncertainty": "1"},
    "components": {"asset_number": "M-1", "kind": "apl-valve", "fitted_on": "2019-03-31"},
    "earlier-inspections": {"asset_number": "M-1", "done_on": "2019-03-31"},
}
LONGEST = 18  # of the shortest column


@pytest.fixture
def planner(db):
    make_model(code="three", name="Three")
    make_machine(asset_number="M-1", area=make_area())
    return make_person("planner")


def file_of(kind, texts, *, header=()):
    """A file with one row for each text, which is in every free text column."""
    free = [c.name for c in kind.columns.values() if c.kind is ColumnKind.TEXT and c.name not in FIXED[kind.code]]
    out = io.StringIO()
    rows = csv.writer(out)
    rows.writerow([*free, *FIXED[kind.code], *header])
    for text in texts:
        rows.writerow([*(text for _ in free), *FIXED[kind.code].values(), *(text for _ in header)])
    return out.getvalue().encode()


def pages_of(client, upload):
    names = ("import_preview", "import_reading")
    return [client.get(reverse(f"fleet:{name}", args=[upload.pk]), follow=True) for name in names]


@pytest.mark.parametrize("payload", PAYLOADS, ids=lambda payload: payload.name)
@pytest.mark.parametrize("code", IMPORTERS)
def test_the_pages_and_problem_files_of_a_hostile_file_show_it_as_text(client, planner, code, payload):
    client.force_login(planner)
    data = file_of(IMPORTERS[code].kind, [payload.text, *TEXTS], header=[payload.text, TEXTS[2]])
    sent = {"kind": code, "file": SimpleUploadedFile(f"{TEXTS[2]}.csv", data)}
    response = client.post(reverse("fleet:import_register"), sent, follow=True)
    upload = planner.register_uploads.get()
    shown = [look_at_page(one.content.decode(), mark_of(planner)) for one in (response, *pages_of(client, upload))]
    assert any(shown)
    for fmt in ("csv", "xlsx"):
        problems = client.get(reverse("fleet:import_problems", args=[upload.pk, fmt]))
        assert problems.status_code < 500
        look_at_file(problems.content, f"problems.{fmt}")


@pytest.mark.parametrize("text", [text for text in TEXTS if len(text) <= LONGEST])
@pytest.mark.parametrize("fmt", WRITERS)
def test_what_looks_like_a_formula_comes_back_from_a_file_as_it_was(planner, fmt, text):
    for model, field in ((Machine, "asset_number"), (Machine, "note"), (Machine, "serial")):
        model.objects.update(**{field: text})
    EarlierInspection.objects.create(
        machine=Machine.objects.get(), done_on=TODAY, procedure=text, result=text, source="x", recorded_at=NOON
    )
    Instrument.objects.create(code=text, name=text, site=Machine.objects.get().area.site)
    scope = Scope.of(None, TODAY)
    for code in ("machines", "instruments", "earlier-inspections"):
        data = WRITERS[fmt](IMPORTERS[code].rows(scope), IMPORTERS[code].kind)
        look_at_file(data, f"x.{fmt}")
        plan = plan_import(parse_upload(data, IMPORTERS[code].kind, Settings(counts_as="")), scope)
        assert (plan.problems, plan.created, plan.updated, plan.unchanged) == ([], [], [], 1), code


@pytest.mark.parametrize("fmt", WRITERS)
def test_rows_of_older_days_with_signs_that_cannot_be_printed_are_written_and_can_be_read(planner, fmt):
    Machine.objects.update(note="one\v\x01two", serial="7\x1b8")
    machines = IMPORTERS["machines"]
    data = WRITERS[fmt](machines.rows(Scope.of(None, TODAY)), machines.kind)
    plan = plan_import(parse_upload(data, machines.kind), Scope.of(None, TODAY))
    assert plan.problems == [] and plan.created == []
    import_register(plan, by=planner, at=NOON, source="x.csv")
    machine = Machine.objects.get()
    assert (machine.note, machine.serial) == ("one  two", "7 8")
