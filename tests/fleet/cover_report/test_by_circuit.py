"""What the computed circuits of the fleet of conftest.py leave open, counted by hand.

A-1 hypoxic mixture (3 causes, 1 not rare, which a feature would close), barotrauma (1, rare)
A-2 hypoxic mixture (1, rare)
A-3 no open hazard    A-4 a circuit that cannot be computed        A-5 retired, barotrauma (1, not rare)
"""

import csv
from io import BytesIO, StringIO

import pytest
from django.urls import reverse
from openpyxl import load_workbook
from pypdf import PdfReader

from fleet.cover_report import CoverFilter, build_report, select_machines
from fleet.cover_report.paper import write_pdf
from fleet.cover_report.queries import Unneeded
from fleet.cover_report.sheets import write_csv, write_xlsx
from fleet.models import MachineCover
from tests.factories import NOON, TODAY, make_circuit_cover, make_person


@pytest.fixture
def computed(fleet):
    make_circuit_cover(fleet["A-1"], open={"barotrauma": (1, 0), "hypoxic-mixture": (3, 1, 1)})
    make_circuit_cover(fleet["A-2"], open={"hypoxic-mixture": (1, 0)})
    make_circuit_cover(fleet["A-3"], open={"barotrauma": (0, 0)})
    reason = "Oxygen control: nothing is joined to it."
    MachineCover.objects.create(machine=fleet["A-4"], basis="as recorded", reason=reason, on=TODAY, computed_at=NOON)
    make_circuit_cover(fleet["A-5"], open={"barotrauma": (1, 1)})
    return fleet


def report_on(person=None, **given):
    wanted = CoverFilter(**{"on": TODAY, "today": TODAY, **given})
    unneeded = Unneeded()
    machines = select_machines(wanted, person, unneeded)
    return build_report(machines, wanted, unneeded), machines.with_place()


def hazards_in(view):
    return {each.hazard.code: (each.machines, each.likely, each.closable) for each in view.hazards}


def test_a_machine_counts_once_for_each_hazard_that_some_cause_leaves_open(computed):
    view = report_on()[0].circuits
    assert hazards_in(view) == {"hypoxic-mixture": (2, 1, 1), "barotrauma": (1, 0, 0)}
    assert [each.hazard.code for each in view.hazards] == ["hypoxic-mixture", "barotrauma"], "the most exposed first"
    assert view.hazards[0].share == pytest.approx(2 / 3), "of the three that are computed"
    assert (view.machines, view.computed, view.failed, view.missing, view.exposed) == (4, 3, 1, 0, 2)


def test_places_tell_where_and_who_was_not_looked_at(computed):
    MachineCover.objects.get(machine=computed["A-3"]).delete()
    north, south = report_on()[0].circuits.sites
    assert (north.name, north.exposed, north.unknown, north.counts) == ("North", 2, 0, ((2, 1), (1, 0)))
    assert (south.name, south.exposed, south.unknown, south.counts) == ("South", 0, 2, ((0, 0), (0, 0)))
    assert [area.counts for area in north.areas] == [((2, 1), (1, 0))]
    assert report_on()[0].circuits.missing == 1


def test_the_filter_narrows_the_view(computed):
    assert hazards_in(report_on(hazard="barotrauma")[0].circuits) == {"barotrauma": (1, 0, 0)}
    assert hazards_in(report_on(status="all")[0].circuits)["barotrauma"] == (2, 1, 0)
    assert hazards_in(report_on(area=computed["A-3"].area)[0].circuits) == {}


def test_another_day_has_no_view(computed):
    assert report_on(today=TODAY.replace(day=25))[0].circuits is None


def test_nobody_sees_what_another_site_leaves_open(computed):
    person = make_person("manager", sites=[computed["A-3"].site])
    view = report_on(person)[0].circuits
    assert (view.hazards, view.computed, view.failed) == ((), 1, 1)


def test_the_page_shows_counts_and_says_what_is_not_computed(client, computed):
    client.force_login(make_person("planner"))
    page = client.get("/cover/", {"on": TODAY.isoformat()}).content.decode()
    assert "computed for today only" in page
    page = client.get("/cover/").content.decode()
    assert "Hazards that the gas circuits leave open" in page and "Compute every circuit" in page
    assert "whose circuit cannot be computed" in page


def test_only_who_may_have_them_computed_is_offered_it(client, computed):
    client.force_login(make_person("auditor"))
    assert "Compute every circuit" not in client.get("/cover/").content.decode()


def test_the_csv_says_of_each_machine_what_its_circuit_leaves_open(computed):
    text = write_csv(*report_on(), "Made for nobody").decode("utf-8-sig")
    rows = {row["Asset number"]: row["Left open by its circuit"] for row in csv.DictReader(StringIO(text))}
    assert rows == {
        "A-1": "Barotrauma; Hypoxic mixture",
        "A-2": "Hypoxic mixture",
        "A-3": "none",
        "A-4": "not computed",
    }


def test_the_workbook_has_a_sheet_of_circuits(computed):
    book = load_workbook(BytesIO(write_xlsx(*report_on(), "Made for nobody")))
    rows = list(book["Circuits"].iter_rows(values_only=True))
    assert rows[1][:6] == ("Hypoxic mixture", None, 2, pytest.approx(2 / 3), 1, 1)
    assert ("North", "Theatre 1", 2, 0, 2, 2, 1, 1, 0) in rows


def test_the_paper_says_it_too(computed):
    reader = PdfReader(BytesIO(write_pdf(*report_on(), "Made for nobody")))
    words = " ".join(" ".join(page.extract_text().split()) for page in reader.pages)
    assert "Hazards that the gas circuits leave open" in words and "3 of 4 machines computed" in words
    assert "1 whose circuit cannot be computed" in words


def test_asking_for_a_computation_needs_the_right_and_a_post(client, computed):
    url = reverse("fleet:covers_compute")
    client.force_login(make_person("auditor"))
    assert client.post(url).status_code == 403
    client.force_login(make_person("planner"))
    assert client.get(url).status_code == 405
    assert client.post(url)["Location"].startswith("/jobs/")
