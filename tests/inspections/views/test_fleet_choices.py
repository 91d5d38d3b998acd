"""What a sum can close: asked for on a page, computed by a job, stored with its inputs, shown, printed, exported."""

import io
from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from openpyxl import load_workbook
from pypdf import PdfReader

from fleet.actions import choose_currency
from fleet.jobs.running import run_waiting_job
from fleet.models import AlterationPrice, Job, ReplacementPrice
from inspections.models import FleetChoice
from inspections.planning.fleet_choice import Kind, broken_limits, plan_from_dict, problem_from_dict
from inspections.retirement.fleet_problem import Asked, gather
from inspections.retirement.shown_choice import ShownChoice
from tests.factories import NOON, TODAY, make_area, make_circuit_cover, make_machine, make_model, make_person, make_site
from tests.fleet.money_rows import DAY, enter
from tests.inspections.fleet_choice_rows import make_fleet_choice

LACKS = {"vaporizer-exclusion": "not fitted", "o2-supply-alarm": "not fitted"}  # meets A4 and A3


@pytest.fixture
def manager(client, db):
    person = make_person("manager")
    client.force_login(person)
    return person


@pytest.fixture
def site(manager):
    site = make_site()
    choose_currency(site, "EUR", by=manager, at=NOON)
    return site


@pytest.fixture
def machines(site):
    area, model = make_area(site), make_model(features=LACKS)
    for feature in LACKS:
        enter(AlterationPrice, feature=feature, price=Decimal(900), minutes=120, priced_on=DAY)
    enter(ReplacementPrice, model=model, price=Decimal(40_000), priced_on=DAY)
    return [make_machine(area=area, model=model) for _ in range(3)]


def asked(**fields):
    return Asked(**{"title": "Board", "currency": "EUR", "yearly": "1000", **fields})


def gathered(person, **fields):
    return gather(person, asked(**fields), TODAY)


def test_the_options_of_a_machine_follow_from_its_criteria_and_the_prices(manager, machines):
    one = gathered(manager).problem.machines[0]
    kinds = {option.kind for option in one.options}
    assert kinds == {Kind.ALTER, Kind.REPLACE}
    both = max((o for o in one.options if o.kind is Kind.ALTER), key=lambda option: option.closes)
    assert both.cost == 180_000 and both.minutes == 240 and set(both.does) <= set(LACKS)


def test_a_price_for_the_model_comes_before_one_for_any_model(manager, machines):
    model = machines[0].model
    enter(AlterationPrice, feature="vaporizer-exclusion", model=model, price=Decimal(500), minutes=60, priced_on=DAY)
    options = gathered(manager).problem.machines[0].options
    assert 50_000 in {option.cost for option in options if option.does == ("vaporizer-exclusion",)}


def test_without_a_price_there_is_no_option_and_the_result_says_so(manager, site):
    make_machine(area=make_area(site), features=LACKS)
    found = gathered(manager)
    assert found.problem.machines[0].options == ()
    words = " ".join(said for said, _ in found.unknown)
    assert "No price of a replacement is known" in words and "No price of an alteration is known" in words


def test_machines_of_sites_with_another_currency_or_none_are_left_out_and_counted(manager, machines):
    other = make_site()
    choose_currency(other, "USD", by=manager, at=NOON)
    make_machine(area=make_area(other))
    make_machine()
    found = gathered(manager)
    assert len(found.problem.machines) == 3
    assert [n for words, n in found.unknown if "left out" in words] == [1, 1]


def test_a_hazard_that_the_circuit_leaves_open_too_needs_both_alterations(manager, machines):
    """A4 leaves two agents at once open, and the circuit says that an analyser is needed as well. Weights 6 and 8."""
    gap = ["two-agents", "cause", "A cause"]
    closing = {"sets": [{"features": ["o2-analyser"], "closes": {"o2-analyser": [gap]}}]}
    make_circuit_cover(machines[0], open={"two-agents": (2, 1, 1)}, closing=closing)
    for feature in ("o2-analyser", "vaporizer-exclusion"):
        enter(AlterationPrice, feature=feature, model=machines[0].model, price=Decimal(300), minutes=30, priced_on=DAY)
    found = {machine.name: machine for machine in gathered(manager).problem.machines}
    closes = {option.does: option.closes for option in found[machines[0].asset_number].options}
    assert closes[("vaporizer-exclusion",)] == 80, "agent overdose alone"
    assert closes[("o2-analyser", "vaporizer-exclusion")] == 140


def test_gathering_asks_no_more_queries_for_many_machines(manager, machines, django_assert_max_num_queries):
    for _ in range(4):
        make_machine(area=machines[0].area, model=machines[0].model)
    with django_assert_max_num_queries(GATHERING_QUERIES):
        gathered(manager)


GATHERING_QUERIES = 26


def send(client, **data):
    given = {"title": "Board", "currency": "EUR", "yearly": "1000", "technicians": "1", "turns": "12", "retire": ""}
    return client.post(reverse("inspections:fleet_choice_add"), {**given, **data})


def compute(client, **data):
    assert send(client, **data).status_code == 302
    job = Job.objects.get(kind="fleet-choice")
    run_waiting_job(job.pk, clock=lambda: NOON + timedelta(hours=1), pulse=False)
    job.refresh_from_db()
    assert job.stage == "done", job.error
    return FleetChoice.objects.get(), job


def test_a_choice_is_computed_in_the_background_and_stored_with_its_inputs(client, machines, monkeypatch):
    monkeypatch.setattr("inspections.jobs.fleet_choice.SECONDS_FRONTIER", 5.0)
    choice, job = compute(client, replace="1", hours="100", technicians="2", fewer="1", yearly="50000")
    assert job.link == choice.get_absolute_url()
    problem, plan = problem_from_dict(choice.inputs), plan_from_dict(choice.result["plan"])
    assert broken_limits(problem, plan.choices) == [] and plan.is_proved
    assert len(choice.result["frontier"]) == 10
    page = client.get(choice.get_absolute_url()).content.decode()
    assert "What if" in page and "replace exactly 1" in page and "No other plan within these limits" in page
    assert "the default weights" in page and "It does not say how often" in page


def test_what_cannot_be_met_is_stored_with_the_limit_that_prevents_it(client, machines, monkeypatch):
    monkeypatch.setattr("inspections.jobs.fleet_choice.SECONDS_FRONTIER", 5.0)
    choice, _ = compute(client, replace="3")
    assert any("Without the limit of the yearly sum" in words for words in ShownChoice(choice).what_if)


def test_later_prices_do_not_change_a_stored_choice(client, manager, machines):
    choice = make_fleet_choice(machines[0], manager)
    before = client.get(choice.get_absolute_url()).content
    enter(ReplacementPrice, model=machines[0].model, price=Decimal(1), priced_on=TODAY)
    after = client.get(choice.get_absolute_url()).content
    assert len(before) == len(after)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ({"retire": "nobody"}, "No machine that you may see: nobody"),
        ({"yearly": "1.005"}, "more digits than the currency"),
        ({"fewer": "1"}, "Enter the hours of a year"),
        ({"fewer": "3", "hours": "10"}, "fewer than none"),
        ({"currency": "USD"}, "valid choice"),
    ],
)
def test_what_cannot_be_asked_is_refused_with_a_sentence(client, machines, data, said):
    response = send(client, **data)
    assert response.status_code == 200 and said in response.content.decode()
    assert not Job.objects.filter(kind="fleet-choice").exists()


def test_the_paper_for_the_board_has_two_pages_with_answer_weights_and_what_is_not_known(client, manager, machines):
    choice = make_fleet_choice(machines[0], manager)
    reader = PdfReader(io.BytesIO(client.get(reverse("inspections:fleet_choice_pdf", args=[choice.pk])).content))
    first, second = (page.extract_text() for page in reader.pages)
    assert "With 50,000 EUR a year" in " ".join(first.split())
    assert "default weights" in second and "A price is not known" in second


def test_the_workbook_holds_the_tables_and_a_chart(client, manager, machines):
    choice = make_fleet_choice(machines[0], manager)
    response = client.get(reverse("inspections:fleet_choice_xlsx", args=[choice.pk]))
    book = load_workbook(io.BytesIO(response.content))
    assert book.sheetnames == ["Frontier", "Machines", "Basis"]
    assert len(book["Frontier"]._charts) == 1 and book["Frontier"].max_row == 11
    assert [row[0].value for row in book["Frontier"].iter_rows(min_row=2)][4] == 50_000
    assert book["Machines"].cell(2, 2).value == machines[0].asset_number


def test_a_person_of_another_site_sees_no_choice(client, manager, machines):
    choice = make_fleet_choice(machines[0], manager)
    client.force_login(make_person("manager", sites=[make_site()]))
    assert client.get(choice.get_absolute_url()).status_code == 404
    assert client.get(reverse("inspections:fleet_choices")).context["page"].paginator.count == 0


def test_an_auditor_reads_a_choice_and_may_not_ask_for_one(client, manager, machines):
    choice = make_fleet_choice(machines[0], manager)
    client.force_login(make_person("auditor"))
    assert client.get(choice.get_absolute_url()).status_code == 200
    assert send(client).status_code == 403
