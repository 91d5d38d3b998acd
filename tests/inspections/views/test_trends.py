"""The watch list of trends."""

import csv
import io
from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.models import Job
from inspections.jobs.trends import TRENDS
from inspections.machine_trends.forecasting import make_forecasts
from inspections.models import TrendForecast
from tests.decisions import send
from tests.factories import NOON, PASSWORD, load_all_procedures, make_area, make_machine, make_person, make_site
from tests.inspections.machine_trends.signed_years import make_fleet, sign_years

TEST = "supply-failure"
URL = reverse("inspections:trends")


@pytest.fixture
def watched(db):
    """Forecasts of four machines: two to watch, one to measure better, one well inside."""
    load_all_procedures()
    fleet = make_fleet(make_person("technician"))
    make_forecasts(TEST, at=NOON)
    chosen = [(0.4, "come earlier"), (0.2, "measure better"), (0.7, "come earlier"), (0.001, "nothing")]
    for machine, (chance, advice) in zip(fleet, chosen, strict=True):
        TrendForecast.objects.filter(machine=machine).update(chance=chance, advice=advice)
    return fleet


def page(client, **query):
    return client.get(URL, query).content.decode()


def numbers(text, machines):
    """Return the places of the machines that the page names, in the order of the page."""
    found = [(text.index(f">{machine.asset_number}</a>"), place) for place, machine in enumerate(machines)
             if f">{machine.asset_number}</a>" in text]  # fmt: skip
    return [place for _, place in sorted(found)]


@pytest.mark.parametrize("group", ["planner", "manager", "technician", "auditor"])
def test_the_likeliest_to_be_outside_comes_first_and_what_is_well_inside_not_at_all(watched, client, group):
    client.force_login(make_person(group))
    text = page(client)
    assert numbers(text, watched) == [2, 0, 1]
    for words in ("Come earlier", "Measure better", "70 %", "Trip pressure"):
        assert words in text


@pytest.mark.parametrize(
    ("show", "places"), [("come earlier", [2, 0]), ("measure better", [1]), ("every", [2, 0, 1, 3])]
)
def test_the_list_is_narrowed_by_what_helps(watched, client, show, places):
    client.force_login(make_person("planner"))
    assert numbers(page(client, show=show), watched) == places


def test_the_list_is_narrowed_by_site_and_area_and_search(watched, client):
    client.force_login(make_person("planner"))
    area = watched[0].area
    elsewhere = make_area(make_site())
    for query in ({"site": area.site_id}, {"area": area.pk}, {"q": "trip"}):
        assert numbers(page(client, **query), watched) == [2, 0, 1]
    for query in ({"site": elsewhere.site_id}, {"area": elsewhere.pk}, {"q": "nothing like it"}):
        assert "No result is likely to be outside" in page(client, **query)
    assert numbers(page(client, q=watched[1].asset_number), watched) == [1]


def test_somebody_of_another_site_sees_nothing_of_it(watched, client):
    client.force_login(make_person("planner", sites=[make_site()]))
    text = page(client, show="every")
    assert numbers(text, watched) == []
    assert "<b>0</b> come earlier" in text


def test_without_forecasts_the_page_says_when_there_will_be_some(db, client):
    client.force_login(make_person("manager"))
    assert "Trends are computed every night" in page(client)


def test_without_the_permission_it_is_refused(db, client):
    client.force_login(make_person())
    assert client.get(URL).status_code == 403


def test_the_work_list_leads_to_it(db, client):
    client.force_login(make_person("planner"))
    assert URL in client.get(reverse("inspections:work")).content.decode()


def test_a_file_of_the_list_holds_chance_and_day_in_plain_numbers(watched, client):
    client.force_login(make_person("planner"))
    rows = list(csv.reader(io.StringIO(client.get(URL, {"export": "csv"}).getvalue().decode("utf-8-sig"))))
    assert rows[0][0] == "Chance outside"
    assert [float(row[0]) for row in rows[1:]] == [0.7, 0.4, 0.2]


QUERIES = 11


@pytest.mark.parametrize("more", [0, 6])
def test_the_queries_do_not_grow_with_the_list(watched, client, django_assert_num_queries, more):
    technician = make_person("technician")
    for _ in range(more):
        sign_years(make_machine(model=watched[0].model), technician)
    make_forecasts(TEST, at=NOON + timedelta(days=1))
    TrendForecast.objects.update(advice="come earlier", chance=0.3)
    client.force_login(make_person("planner"))
    page(client)
    with django_assert_num_queries(QUERIES):
        page(client)


def test_a_signature_requests_the_trends_of_its_machine(scene, client, time_machine):
    time_machine.move_to(NOON + timedelta(hours=1), tick=False)
    scene.complete()
    client.force_login(scene.technician)
    send(client, reverse("inspections:sign", args=[scene.inspection.pk]), {"password": PASSWORD})
    scene.inspection.refresh_from_db()
    assert scene.inspection.stage == "signed"
    assert Job.objects.get(kind=TRENDS).params == {"machine": scene.machine.pk}
