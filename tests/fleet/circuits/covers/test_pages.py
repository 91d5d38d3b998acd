"""The page of a machine's cover, its files, and the section on the machine's own page."""

import csv
import json
from io import StringIO

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.actions import record_feature_state
from fleet.catalogue import HAZARDS
from fleet.circuit.causes import pairs_of
from fleet.circuit.state import Likelihood
from fleet.circuits.covers.export import CSV_HEADER
from fleet.circuits.covers.job import CIRCUIT_COVER
from fleet.circuits.covers.pairs import CIRCUIT_PAIRS
from fleet.circuits.covers.rows_in_words import read_table
from fleet.circuits.machine_circuit import circuit_of
from fleet.jobs.running import run_waiting_job
from fleet.models import CircuitCover, Job, MachineCover
from tests.factories import NOON, TODAY, make_machine, make_person, make_site


@pytest.fixture
def machine(machines, covers):
    """A machine whose cover was computed now, by the clock that the pages read."""
    covers(at=timezone.now())
    return machines[0]


@pytest.fixture
def planner(client, db):
    person = make_person("planner")
    client.force_login(person)
    return person


def page(client, machine, **query):
    response = client.get(reverse("fleet:machine_cover", args=[machine.pk]), query)
    assert response.status_code == 200
    return response


def rows(response):
    return [each.row for each in response.context["page"].object_list]


def test_every_row_says_hazard_cause_and_what_becomes_of_it(client, planner, machine, monkeypatch):
    monkeypatch.setattr("fleet.views.circuit_covers.ROWS", 20)
    response = page(client, machine)
    text = response.content.decode()
    table = read_table(MachineCover.objects.get(machine=machine).cover)
    assert response.context["page"].paginator.count == len(table.rows) > 20
    assert len(rows(response)) == 20, "a page at a time"
    assert "Step by step" in text and table.rows[0].steps[0].split(":")[0] in text
    assert "not a pre-use check of the machine" in text


@pytest.mark.parametrize(
    "query, holds",
    [
        ({"status": "open"}, lambda row: row.status == "open"),
        ({"hazard": "hypoxic-mixture"}, lambda row: row.hazard == "hypoxic-mixture"),
        ({"group": "supply", "status": "stopped"}, lambda row: row.cause.group == "supply" and row.status == "stopped"),
        ({"likelihood": "rare"}, lambda row: row.cause.likelihood == "rare"),
    ],
)
def test_the_filter_keeps_what_it_says(client, planner, machine, query, holds):
    table = read_table(MachineCover.objects.get(machine=machine).cover)
    response = page(client, machine, **query)
    assert response.context["page"].paginator.count == sum(map(holds, table.rows)) > 0
    assert all(map(holds, rows(response)))


@pytest.mark.parametrize("query", [{"hazard": "none-such"}, {"status": "odd"}, {"page": "999"}])
def test_a_filter_that_cannot_be_is_refused(client, planner, machine, query):
    client.force_login(planner)
    assert client.get(reverse("fleet:machine_cover", args=[machine.pk]), query).status_code == 400


def test_a_machine_that_was_not_looked_at_says_so_and_can_be_asked_for(client, planner, machines):
    text = page(client, machines[0]).content.decode()
    assert "has not been computed yet" in text and "Compute" in text
    client.force_login(make_person("auditor"))
    assert '<form method="post"' not in page(client, machines[0]).content.decode().split("</header>")[-1]


def test_what_changed_since_is_told(client, planner, machine):
    assert "This is not today" not in page(client, machine).content.decode()
    state = {"from_date": timezone.localdate(), "evidence": "seen", "by": None, "at": timezone.now()}
    record_feature_state(machine, "dial-anticlockwise", "fitted", **state)
    text = page(client, machine).content.decode()
    assert "This is not today" in text and "has changed since" in text
    CircuitCover.objects.update(rules="0" * 64)
    assert "earlier release" in page(client, machine).content.decode()


def test_circuit_and_record_stand_side_by_side(client, planner, machine):
    state = {"from_date": timezone.localdate(), "evidence": "seen", "by": None, "at": timezone.now()}
    record_feature_state(machine, "o2-failure-protection", "not fitted", **state)
    response = page(client, machine)
    shown = {each.name: each for each in response.context["standing"].features}
    line = shown["Oxygen supply-failure protection"]
    assert (line.recorded, line.shown, line.disagrees) == ("not fitted", "fitted", True)
    assert "Disagrees." in response.content.decode()
    assert "Circuit and record disagree" in client.get(machine.get_absolute_url()).content.decode()


def test_the_csv_and_the_json_hold_every_row(client, planner, machine):
    table = read_table(MachineCover.objects.get(machine=machine).cover)
    response = client.get(reverse("fleet:machine_cover_file", args=[machine.pk, "csv"]))
    lines = list(csv.DictReader(StringIO(response.getvalue().decode("utf-8-sig"))))
    assert [line["status"] for line in lines] == [str(row.status) for row in table.rows]
    content = json.loads(client.get(reverse("fleet:machine_cover_file", args=[machine.pk, "json"])).content)
    assert content["machine"] == "C-1" and len(content["cover"]["rows"]) == len(table.rows)
    assert content["closing"]["sets"]


def test_a_file_of_another_kind_or_of_no_table_is_not_found(client, planner, machine):
    assert client.get(f"/machines/{machine.pk}/cover/cover.xlsx").status_code == 404
    other = make_machine()
    assert client.get(f"/machines/{other.pk}/cover/cover.csv").status_code == 404


def test_a_machine_of_another_site_is_not_found(client, machine):
    client.force_login(make_person("planner", sites=[make_site()]))
    names = ("machine_cover", "machine_cover_compute", "machine_cover_pairs")
    urls = [reverse(f"fleet:{name}", args=[machine.pk]) for name in names]
    assert [client.get(urls[0]).status_code, *(client.post(url).status_code for url in urls[1:])] == [404] * 3


def test_asking_for_one_machine_asks_for_the_job(client, planner, machines):
    client.post(reverse("fleet:machine_cover_compute", args=[machines[0].pk]))
    job = Job.objects.get(kind=CIRCUIT_COVER)
    assert (job.params, job.by) == ({"machine": machines[0].pk}, planner)


def test_pairs_are_computed_on_request_as_a_file(client, planner, machine):
    client.post(reverse("fleet:machine_cover_pairs", args=[machine.pk]), {"at_least": "common"})
    job = Job.objects.get(kind=CIRCUIT_PAIRS)
    assert run_waiting_job(job.pk, clock=lambda: NOON, pulse=False) == "done"
    job.refresh_from_db()
    head = next(csv.reader(StringIO(job.file.read().decode("utf-8-sig"))))
    assert tuple(head) == CSV_HEADER
    circuit = circuit_of(machine, TODAY).circuit
    assert job.result.startswith(f"{len(pairs_of(circuit, Likelihood.COMMON))} pairs of causes checked")


@pytest.mark.parametrize("at_least", ["", "rare", "often"])
def test_pairs_of_a_class_that_is_not_offered_are_refused_in_words(client, planner, machine, at_least):
    url = reverse("fleet:machine_cover_pairs", args=[machine.pk])
    page = client.post(url, {"at_least": at_least}, follow=True).content.decode()
    assert "common or occasional" in page or "Accepted: common, occasional" in page
    assert not Job.objects.filter(kind=CIRCUIT_PAIRS).exists()


def test_pairs_of_a_machine_without_a_circuit_are_refused_in_words(client, planner):
    machine = make_machine()
    client.post(reverse("fleet:machine_cover_pairs", args=[machine.pk]), {"at_least": "common"})
    job = Job.objects.get(kind=CIRCUIT_PAIRS)
    assert run_waiting_job(job.pk, clock=lambda: NOON, pulse=False) == "failed"
    job.refresh_from_db()
    assert "has no circuit that can be computed" in job.error


def test_the_open_hazards_are_named_with_their_worst_cause_and_what_would_close_them(client, planner, machine):
    text = client.get(reverse("fleet:machine_cover", args=[machine.pk])).content.decode()
    kept = MachineCover.objects.get(machine=machine)
    opened = kept.cover.hazards.filter(open__gt=0)
    assert opened and all(f"?hazard={row.hazard}&amp;status=open" in text for row in opened)
    assert all(row.worst.replace("'", "&#x27;") in text for row in opened)
    assert "What would close it" in text and "closes" in text
    overview = client.get(machine.get_absolute_url()).content.decode()
    assert all(HAZARDS[row.hazard].name in overview for row in opened)


def test_the_page_asks_as_many_queries_for_a_long_table_as_for_a_short_one(
    client, planner, machine, django_assert_max_num_queries
):
    with django_assert_max_num_queries(20) as many:
        page(client, machine)
    with django_assert_max_num_queries(len(many.captured_queries)):
        page(client, machine, status="told")


def test_a_table_that_an_earlier_release_wrote_otherwise_is_no_error(client, planner, machine):
    CircuitCover.objects.update(table={"format": 0})
    assert "cannot be read" in page(client, machine).content.decode()
    assert client.get(reverse("fleet:machine_cover_file", args=[machine.pk, "csv"])).status_code == 404
