"""Exposure over time: each quarter by the circuits and the status of that day, ahead by what a stored choice does."""

from datetime import date, timedelta
from types import SimpleNamespace

import pytest
from django.urls import reverse

from fleet.actions import carry_out_alteration, retire_machine
from fleet.jobs.running import run_waiting_job
from inspections.exposure_history.ahead import Ahead, shares_open
from inspections.exposure_history.circuits_on_days import Open
from inspections.exposure_history.computing import compute_exposure
from inspections.exposure_history.shown_exposure import ShownExposure
from inspections.jobs.exposure import request_exposure
from inspections.models import ExposureHistory
from inspections.planning.exposure_sums import Standing, either, quarter_ends, summed
from inspections.planning.fleet_choice import Choice, Kind, Option
from inspections.review import HAZARD_WEIGHTS
from tests.factories import NOON, TODAY, make_area, make_machine, make_model, make_person, make_site
from tests.fleet.altering.rows import make_alteration
from tests.fleet.circuit_texts import SMALL
from tests.fleet.circuits.covers.conftest import remembered
from tests.inspections.exposure_rows import make_exposure
from tests.inspections.fleet_choice_rows import make_fleet_choice

OPEN = Open(
    frozenset({"barotrauma", "disconnection"}),
    {"barotrauma": (frozenset({"outlet-relief", "apl-excluded"}),)},
    {"o2-failure-protection": frozenset({"hypoxic-mixture"}), "o2-supply-alarm": frozenset({"hypoxic-mixture"})},
)


@pytest.fixture(autouse=True)
def quick(monkeypatch):
    monkeypatch.setattr("fleet.circuits.covers.storing.compute", remembered)


@pytest.fixture
def machines(db):
    area, model = make_area(make_site()), make_model(circuit=SMALL)
    return [make_machine(model=model, area=area, in_use_from=date(2026, month, 10)) for month in (1, 5)]


def computed(person=None, site=None, choice=None, today=TODAY):
    return compute_exposure(person, site, choice, today=today, at=NOON, tell=lambda *words: None)


def test_quarters_end_on_the_last_day_of_their_last_month():
    assert quarter_ends(date(2025, 12, 31), date(2026, 9, 29)) == (
        date(2025, 12, 31), date(2026, 3, 31), date(2026, 6, 30)
    )  # fmt: skip
    assert quarter_ends(date(2026, 4, 1), date(2026, 6, 29)) == ()


def test_the_sums_are_weights_times_shares_of_what_is_known():
    weights = {"barotrauma": 8.0, "disconnection": 7.0}
    sums = summed([
        Standing(weights, {"barotrauma": 1.0}), Standing(weights, {"barotrauma": 0.25, "disconnection": 1.0}),
        Standing(weights, None),
    ])  # fmt: skip
    assert sums.points == {"barotrauma": 10.0, "disconnection": 7.0}  # 8 + 8/4; 7
    assert (sums.in_service, sums.known, sums.machines) == (3, 2, {"barotrauma": 1.25, "disconnection": 1.0})
    with pytest.raises(ValueError, match="between 0 and 1"):
        summed([Standing(weights, {"barotrauma": 1.5})])


def test_either_of_two_independent_halves_is_three_quarters():
    assert either([0.5, 0.5]) == 0.75 and either([]) == 0.0


def chosen(kind, year=0, does=()):
    return Choice("M", year, Option(kind, 0, 0, 0, does))


def test_a_choice_counts_from_the_end_of_its_year():
    machine = Ahead("M", {}, OPEN)
    replaced = chosen(Kind.REPLACE, year=1)
    assert set(shares_open(machine, replaced, "choice", 6)) == OPEN.hazards  # the seventh quarter
    assert shares_open(machine, replaced, "choice", 7) == {}  # the eighth ends the second year
    assert set(shares_open(machine, replaced, "alter", 7)) == OPEN.hazards
    assert shares_open(machine, chosen(Kind.RETIRE), "choice", 3) is False


def test_an_alteration_closes_a_hazard_only_with_the_whole_set():
    machine = Ahead("M", {}, OPEN)
    part, whole = ("outlet-relief",), ("apl-excluded", "outlet-relief")
    assert "barotrauma" in shares_open(machine, chosen(Kind.ALTER, does=part), "alter", 3)
    assert set(shares_open(machine, chosen(Kind.ALTER, does=whole), "alter", 3)) == {"disconnection"}


def test_drift_opens_what_stands_behind_a_feature_with_its_chance():
    drift = {"o2-failure-protection": [0.0, 0.5], "o2-supply-alarm": [0.0, 0.5], "flush-guard": [1.0, 1.0]}
    machine = Ahead("M", {}, OPEN, drift)
    assert shares_open(machine, None, "keep", 0).get("hypoxic-mixture", 0.0) == 0.0
    assert shares_open(machine, None, "keep", 1)["hypoxic-mixture"] == 0.75  # either of two halves


def test_each_quarter_counts_the_machines_in_service_with_the_circuit_of_that_day(machines):
    row = make_alteration(machines[0], kind="nitrous-oxide-off", from_date=date(2026, 8, 1)).machines.get()
    carry_out_alteration(row, done_on=date(2026, 8, 3), evidence="Order", by=make_person("technician"), at=NOON)
    result = computed()
    assert result["days"] == ["2026-03-31", "2026-06-30", "2026-09-30", TODAY.isoformat()]
    assert result["past"]["in_service"] == [1, 2, 2, 1]  # altered: it waits for its retest since the entry
    hazard = "hypoxic-mixture"
    machines_open, points = result["past"]["machines"][hazard], result["past"]["points"][hazard]
    assert machines_open[:2] == [1, 2] and points == [HAZARD_WEIGHTS[hazard] * number for number in machines_open]
    assert len(result["ahead_days"]) == 20 and set(result["ahead"]) == {"keep"}


def test_a_retired_machine_counts_until_it_was_retired(machines):
    at = NOON - timedelta(days=60)  # 3 September
    retire_machine(machines[0], reason="Old", by=make_person("manager"), at=at)
    assert computed()["past"]["in_service"] == [1, 2, 1, 1]


def test_a_machine_without_a_circuit_is_not_known_and_counts_nowhere(machines):
    make_machine(area=machines[0].area)
    result = computed()
    assert result["past"]["in_service"][-1] - result["past"]["known"][-1] == 1
    history = SimpleNamespace(result=result)
    assert "1 of 3 machines in service have no circuit" in ShownExposure(history).not_known[0]


def test_circuits_are_computed_in_portions(machines, monkeypatch):
    monkeypatch.setattr("inspections.exposure_history.circuits_on_days.MOST_NEW", 0)
    result = computed()
    assert result["circuits"]["left"] == 1 and result["past"]["known"][-1] == 0


def test_the_number_of_queries_does_not_grow_with_the_machines(machines, django_assert_max_num_queries):
    computed()
    for _ in range(6):
        make_machine(model=machines[0].model, area=machines[0].area, in_use_from=date(2026, 5, 10))
    with django_assert_max_num_queries(40):
        computed()


def test_the_job_stores_it_and_the_page_shows_it(machines, client):
    person = make_person("manager")
    client.force_login(person)
    url = reverse("inspections:exposure")
    assert "has not been computed yet" in client.get(url).content.decode()
    choice = make_fleet_choice(machines[0], person)
    job = client.post(url, {"site": machines[0].site.pk, "choice": choice.pk}).url
    run_waiting_job(int(job.rstrip("/").rpartition("/")[2]), clock=lambda: NOON, pulse=False)
    history = ExposureHistory.objects.get()
    assert (history.site, history.choice) == (machines[0].site, choice)
    assert set(history.result["ahead"]) == {"keep", "alter", "replace", "choice"}
    page = client.get(url, {"site": machines[0].site.pk}).content.decode()
    assert "the whole choice" in page and "<svg" in page


def test_only_the_newest_stay(machines):
    person = make_person("manager")
    for _ in range(14):
        job = request_exposure(machines[0].site, None, by=person, at=NOON)
        run_waiting_job(job.pk, clock=lambda: NOON, pulse=False)
    assert ExposureHistory.objects.count() == 13


def test_who_may_not_compute_reads_and_a_site_hides_from_others(machines, client):
    history = make_exposure(machines[0].site, None, make_person("manager"))
    client.force_login(make_person("auditor", sites=[machines[0].site]))
    url = reverse("inspections:exposure")
    assert client.get(url).context["history"] == history
    assert client.post(url, {}).status_code == 403
    client.force_login(make_person("manager", sites=[make_site(name="South")]))
    assert client.get(url).context["history"] is None
    assert "required" in client.post(url, {}).content.decode()
