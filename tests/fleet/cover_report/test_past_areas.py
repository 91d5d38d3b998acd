"""A cover report of a past day takes the areas and sites of that day."""

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.actions import move_machine
from fleet.cover_report import CoverFilter, build_report, machine_rows, select_machines
from fleet.cover_report.export import EXPORTS
from fleet.cover_report.queries import Unneeded
from tests.factories import NOON, TODAY, make_area, make_machine, make_person, make_site

BEFORE, MOVED = date(2026, 5, 1), date(2026, 6, 1)


@pytest.fixture
def moved(db):
    """Two machines in North: one moved within the site, the other to South; a third has always been in South."""
    north, south = make_site(name="North"), make_site(name="South")
    places = {name: make_area(site, name=name) for name, site in (("Alder", north), ("Birch", north), ("Cedar", south))}
    machines = [make_machine(area=places[name], asset_number=f"A-{n}", features={"o2-analyser": "not fitted"})
                for n, name in enumerate(("Alder", "Alder", "Cedar"))]  # fmt: skip
    for machine, name in zip(machines, ("Birch", "Cedar"), strict=False):
        move_machine(machine, area=places[name], on=MOVED, evidence="Order 7", by=None, at=NOON)
    return {**places, "north": north, "south": south}


def counted(on, person=None, **narrowed):
    wanted = CoverFilter(on=on, today=TODAY, **narrowed)
    machines = select_machines(wanted, person, Unneeded())
    report = build_report(machines, wanted, Unneeded())
    shown = {row.machine.asset_number: row.machine.area.name for row in machine_rows(machines.with_place(), wanted)}
    areas = {area.name: (area.machines, area.with_gap) for site in report.sites for area in site.areas}
    return shown, areas


def test_the_breakdown_by_area_is_that_of_the_day(moved):
    assert counted(BEFORE) == (
        {"A-0": "Alder", "A-1": "Alder", "A-2": "Cedar"}, {"Alder": (2, 2), "Cedar": (1, 1)}
    )  # fmt: skip
    now = ({"A-0": "Birch", "A-1": "Cedar", "A-2": "Cedar"}, {"Birch": (1, 1), "Cedar": (2, 2)})
    assert counted(MOVED) == counted(TODAY) == now


def test_the_filters_select_by_the_area_and_site_of_the_day(moved):
    assert list(counted(BEFORE, area=moved["Alder"])[0]) == ["A-0", "A-1"]
    assert list(counted(BEFORE, site=moved["south"])[0]) == ["A-2"]
    assert list(counted(MOVED, site=moved["south"])[0]) == ["A-1", "A-2"]


def test_a_person_of_a_site_sees_what_was_there_on_the_day(moved):
    person = make_person("manager", sites=[moved["north"]])
    assert list(counted(BEFORE, person)[0]) == ["A-0", "A-1"]
    assert list(counted(TODAY, person)[0]) == ["A-0"]


def test_every_export_names_the_area_of_the_day(moved):
    wanted = CoverFilter(on=BEFORE, today=TODAY)
    machines = select_machines(wanted, None, Unneeded())
    text = EXPORTS["csv"](build_report(machines, wanted, Unneeded()), machines.with_place(), "Made").decode()
    assert text.count("Alder") == 2 and "Birch" not in text


def test_the_page_of_a_past_day_asks_a_fixed_number_of_queries(client, moved):
    client.force_login(make_person("manager"))
    query = {"on": BEFORE.isoformat()}
    assert "Alder, North" in client.get(reverse("fleet:cover"), query).content.decode()
    few = _queries(client, query)
    for _ in range(4):
        make_machine(area=moved["Alder"])
    assert _queries(client, query) == few


def _queries(client, query):
    with CaptureQueriesContext(connection) as seen:
        client.get(reverse("fleet:cover"), query)
    return len(seen)
