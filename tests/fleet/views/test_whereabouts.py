"""Moves, loans and outside repairs: the actions behind the pages, the pages, and what counts a machine that is away."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from fleet.actions import expect_back, move_machine, retire_machine, send_away, take_back, withdraw_machine
from fleet.errors import RegisterRefused
from fleet.models import Area, AwayPeriod, ChangeEntry, Machine
from tests.factories import NOON, TODAY, make_area, make_away, make_machine, make_person, make_site

BACK = TODAY + timedelta(days=10)
PAGES = ("machine_move", "machine_away")


@pytest.fixture
def machine(db):
    return make_machine(area=make_area(make_site(name="North"), name="Alder"), asset_number="A-1")


def sign_in(client, *groups, **fields):
    client.force_login(make_person(*groups, **fields))
    return client


def posted(client, name, pk, **fields):
    return client.post(reverse(f"fleet:{name}", args=[pk]), fields)


# Actions


def test_a_loan_is_recorded_with_who_and_why(machine):
    by = make_person("planner")
    away = make_away(machine, by=by)
    assert (away.by, away.to_whom, away.is_over) == (by, "County hospital, Ida Roth", False)
    assert ChangeEntry.objects.filter(record="machine", record_pk=machine.pk, by=by).exists()


def test_a_machine_that_is_away_cannot_be_sent_away_again(machine):
    make_away(machine)
    with pytest.raises(RegisterRefused, match="away already: lent, County hospital"):
        make_away(machine)


@pytest.mark.parametrize(
    ("days", "words"),
    [
        ({"from_date": TODAY + timedelta(days=1)}, "cannot be the day on which it left"),
        ({"from_date": date(2014, 1, 1)}, "cannot be the day on which it left"),
        ({"expected_on": TODAY - timedelta(days=1)}, "before the day on which it left"),
    ],
)
def test_days_that_cannot_be_are_refused(machine, days, words):
    with pytest.raises(RegisterRefused, match=words):
        make_away(machine, **days)
    assert not AwayPeriod.objects.exists()


def test_two_loans_do_not_overlap(machine):
    take_back(make_away(machine, from_date=TODAY - timedelta(days=9)), returned_on=TODAY, by=None, at=NOON)
    with pytest.raises(RegisterRefused, match="was away until"):
        make_away(machine, from_date=TODAY - timedelta(days=3))
    make_away(machine)


def test_a_retired_machine_cannot_be_away(machine):
    retire_machine(machine, reason="Old", by=None, at=NOON)
    with pytest.raises(RegisterRefused, match="is retired"):
        make_away(machine)


def test_a_machine_comes_back_once(machine):
    away = make_away(machine)
    take_back(away, returned_on=TODAY, return_note="Castor broken", by=None, at=NOON)
    with pytest.raises(RegisterRefused, match="back already"):
        take_back(away, returned_on=TODAY, by=None, at=NOON)
    with pytest.raises(RegisterRefused, match="back already"):
        expect_back(away, expected_on=BACK, note="Parts late", by=None, at=NOON)
    assert not AwayPeriod.objects.now().exists()


@pytest.mark.parametrize("day", [TODAY + timedelta(days=1), TODAY - timedelta(days=1)])
def test_a_return_before_the_loan_or_in_the_future_is_refused(machine, day):
    with pytest.raises(RegisterRefused, match="cannot be the day of return"):
        take_back(make_away(machine), returned_on=day, by=None, at=NOON)


def test_another_day_of_return_needs_a_reason_and_is_not_past(machine):
    away = make_away(machine)
    with pytest.raises(RegisterRefused, match="State why"):
        expect_back(away, expected_on=BACK, note=" ", by=None, at=NOON)
    with pytest.raises(RegisterRefused, match="is past"):
        expect_back(away, expected_on=TODAY - timedelta(days=1), note="Late", by=None, at=NOON)
    assert expect_back(away, expected_on=BACK, note="Parts late", by=None, at=NOON).expected_on == BACK


# What counts it


def test_a_machine_that_is_away_does_not_count_towards_the_minimum(machine):
    Area.objects.update(minimum_machines=2)
    make_machine(area=machine.area)
    assert not Area.objects.below_minimum().exists()
    away = make_away(machine)
    area = Area.objects.with_status_counts().get()
    assert (area.in_service, area.away, area.withdrawn) == (1, 1, 0)
    assert Area.objects.below_minimum().exists() and not machine.is_at_hand()
    assert list(Machine.objects.at_hand()) != list(Machine.objects.in_service())
    take_back(away, returned_on=TODAY, by=None, at=NOON)
    assert not Area.objects.below_minimum().exists() and machine.is_at_hand()


def test_a_past_day_counts_by_the_area_status_and_loans_of_that_day(machine):
    """Of three machines one moved away on 10 June, one was lent from the 12th to the 20th, one withdrawn today."""
    other = make_area(machine.site, name="Birch")
    lent, withdrawn = make_machine(area=machine.area), make_machine(area=machine.area)
    move_machine(machine, area=other, on=date(2026, 6, 10), evidence="Order", by=None, at=NOON)
    away = make_away(lent, from_date=date(2026, 6, 12), expected_on=date(2026, 6, 15))
    take_back(away, returned_on=date(2026, 6, 20), by=None, at=NOON)
    withdraw_machine(withdrawn, reason="Leaks", by=None, at=NOON)

    def counted(day):
        rows = Area.objects.with_status_counts_on(day).order_by("name")
        return [(area.in_service, area.away, area.withdrawn) for area in rows]

    assert counted(date(2026, 6, 9)) == [(3, 0, 0), (0, 0, 0)]
    assert counted(date(2026, 6, 10)) == [(2, 0, 0), (1, 0, 0)]
    assert counted(date(2026, 6, 19)) == [(1, 1, 0), (1, 0, 0)]
    assert counted(TODAY) == [(1, 0, 1), (1, 0, 0)]
    assert counted(date(2014, 1, 1)) == [(0, 0, 0), (0, 0, 0)]


def test_the_sites_page_shows_a_past_day_in_a_fixed_number_of_queries(client, machine):
    sign_in(client, "auditor")
    other = make_area(machine.site, name="Birch")
    move_machine(machine, area=other, on=date(2026, 6, 10), evidence="Order", by=None, at=NOON)
    asked = {"on": "2026-06-01"}
    with CaptureQueriesContext(connection) as few:
        page = client.get(reverse("fleet:sites"), asked)
    areas = [(area.name, area.in_service) for area in page.context["page"][0].areas.all()]
    assert areas == [("Alder", 1), ("Birch", 0)] and "Each minimum is that of today" in page.content.decode()
    for _ in range(3):
        make_machine(area=make_area(machine.site))
    with CaptureQueriesContext(connection) as many:
        client.get(reverse("fleet:sites"), asked)
    assert len(few) == len(many)


# Pages


def test_a_planner_records_a_move_and_the_history_shows_it(client, machine):
    sign_in(client, "planner")
    area = make_area(machine.site, name="Birch")
    answer = posted(client, "machine_move", machine.pk, area=area.pk, on="2026-06-10", evidence="Seen there")
    assert answer.url == reverse("fleet:machine_history", args=[machine.pk])
    page = client.get(answer.url)
    assert [row.area.name for row in page.context["areas"]] == ["Birch", "Alder"]
    assert "Moved to Birch" in page.content.decode()


def test_a_move_that_is_refused_says_why_on_its_form(client, machine):
    sign_in(client, "planner")
    answer = posted(client, "machine_move", machine.pk, area=machine.area_id, on="2026-06-10", evidence="Seen")
    assert "already" in answer.content.decode()


def test_a_machine_is_lent_and_taken_back_on_its_pages(client, machine):
    sign_in(client, "planner")
    today = timezone.localdate()
    posted(
        client, "machine_away", machine.pk, kind="lent", to_whom="Ward 4", reason="Theirs broke",
        from_date=today, expected_on=today,
    )  # fmt: skip
    away = AwayPeriod.objects.get()
    assert "Take it back" in client.get(machine.get_absolute_url()).content.decode()
    again = client.get(reverse("fleet:machine_away", args=[machine.pk])).content.decode()
    assert "This machine is away already" in again
    later = today + timedelta(days=3)
    posted(client, "machine_expected", away.pk, expected_on=later, note="Parts late")
    posted(client, "machine_back", away.pk, returned_on=today)
    away.refresh_from_db()
    assert (away.expected_on, away.returned_on) == (later, today)
    assert "Take it back" not in client.get(machine.get_absolute_url()).content.decode()
    assert "Back from Ward 4" in client.get(reverse("fleet:machine_history", args=[machine.pk])).content.decode()


@pytest.mark.parametrize("page", PAGES)
def test_only_planners_open_the_forms(client, machine, page):
    for group in ("technician", "manager", "auditor"):
        assert sign_in(client, group).get(reverse(f"fleet:{page}", args=[machine.pk])).status_code == 403


@pytest.mark.parametrize("page", PAGES)
def test_the_machine_of_another_site_is_not_found(client, machine, page):
    sign_in(client, "planner", sites=[make_site()])
    assert client.get(reverse(f"fleet:{page}", args=[machine.pk])).status_code == 404


def test_the_loan_of_another_site_is_not_found(client, machine):
    away = make_away(machine)
    sign_in(client, "planner", sites=[make_site()])
    for page in ("machine_back", "machine_expected"):
        assert client.get(reverse(f"fleet:{page}", args=[away.pk])).status_code == 404
    assert list(client.get(reverse("fleet:away_machines")).context["table"].data.data) == []


def test_the_list_shows_who_is_overdue_in_a_fixed_number_of_queries(client, machine):
    sign_in(client, "auditor")
    long_ago = date(2020, 1, 1)
    overdue = make_away(machine, from_date=long_ago, expected_on=long_ago)
    make_away(make_machine(), expected_on=date(2099, 1, 1))
    back = make_away(make_machine(), from_date=long_ago)
    take_back(back, returned_on=TODAY, by=None, at=NOON)

    def shown(**query):
        return list(client.get(reverse("fleet:away_machines"), query).context["table"].data.data)

    assert shown()[0] == overdue and len(shown()) == 2
    assert (shown(view="overdue"), shown(view="back"), len(shown(view="any"))) == ([overdue], [back], 3)
    with CaptureQueriesContext(connection) as few:
        shown()
    for _ in range(3):
        make_away(make_machine())
    with CaptureQueriesContext(connection) as many:
        shown()
    assert len(few) == len(many)


def test_the_overview_of_a_past_day_shows_the_area_of_that_day(client, machine):
    sign_in(client, "auditor")
    move_machine(machine, area=make_area(machine.site, name="Birch"), on=TODAY, evidence="Order", by=None, at=NOON)
    url = reverse("fleet:machine_features", args=[machine.pk])
    assert "Alder, North" in client.get(url, {"on": "2026-06-01"}).content.decode()
    assert "Birch, North" in client.get(url).content.decode()


def test_an_outside_repair_is_recorded_for_a_machine_withdrawn_from_use(machine):
    withdraw_machine(machine, reason="Leaks", by=None, at=NOON)
    away = send_away(
        machine, kind="outside repair", to_whom="Works", from_date=TODAY, expected_on=BACK, reason="Leaks", by=None,
        at=NOON,
    )  # fmt: skip
    assert away.get_kind_display() == "Outside repair"
