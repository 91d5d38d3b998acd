"""One box finds machines, components, instruments, people and notices, and nothing of another site."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.web.at_site import day_words
from tests.factories import TODAY, make_area, make_component, make_instrument, make_machine, make_person, make_site
from tests.inspections.notices.scenes import make_notice

pytestmark = pytest.mark.django_db


def client_of(*groups, **fields):
    client = Client()
    client.force_login(make_person(*groups, **fields))
    return client


def found(client, text):
    return {group.title: group for group in client.get(reverse("search"), {"q": text}).context["groups"]}


@pytest.fixture
def filled():
    site = make_site()
    machine = make_machine(area=make_area(site), asset_number="XQ-1", serial="a-xq-9")
    make_component(machine, lot="LXQ7")
    make_component(machine, serial="xq2", removed_on=TODAY)
    make_instrument(site=site, name="Gauge xq")
    make_person("technician", last_name="Axqvist", sites=[site])
    make_notice(reference="N-XQ")
    return site


def test_every_sort_is_found_by_a_part_whatever_its_case(filled):
    groups = found(client_of("planner", "planner-in-chief"), "xQ")
    counts = {title: len(group.hits) for title, group in groups.items()}
    assert counts == {"Machines": 1, "Components": 2, "Instruments": 1, "People": 1, "Safety notices": 1}
    notes = " ".join(hit.note for hit in groups["Components"].hits)
    assert "in place" in notes and f"removed {day_words(TODAY)}" in notes


def test_people_are_shown_only_to_those_who_manage_accounts(filled):
    assert "People" not in found(client_of("planner"), "xq")


def test_what_belongs_to_another_site_is_not_found(filled):
    groups = found(client_of("planner", "planner-in-chief", sites=[make_site()]), "xq")
    assert set(groups) == {"Safety notices"}


def test_each_sort_is_bounded_and_leads_to_a_list_of_all():
    client, machine = client_of("auditor"), make_machine()
    for number in range(12):
        make_component(machine, lot=f"L-{number:02}")
    group = found(client, "l-")["Components"]
    assert len(group.hits) == 10
    assert len(client.get(group.more).context["table"].rows) == 12


def test_the_number_of_a_machine_leads_straight_to_it_unless_something_else_bears_it_too():
    client, machine = client_of("auditor"), make_machine(asset_number="OH-7")
    assert client.get(reverse("search"), {"q": "oh-7"})["Location"] == machine.get_absolute_url()
    make_component(make_machine(), lot="OH-7")
    assert set(found(client, "oh-7")) == {"Machines", "Components"}


def test_the_page_asks_a_fixed_number_of_queries(filled):
    client, counts = client_of("planner", "planner-in-chief"), []
    for round_number in range(2):
        with CaptureQueriesContext(connection) as caught:
            client.get(reverse("search"), {"q": "xq"})
        counts.append(len(caught))
        for number in range(5):
            make_component(make_machine(asset_number=f"XQ-{round_number}-{number}"), lot=f"XQ{number}")
    assert counts[0] == counts[1]


def test_the_box_is_on_home_and_its_page_in_the_head_of_every_page():
    home = client_of("technician").get(reverse("home")).content.decode()
    assert 'id="search-text"' in home and f'href="{reverse("search")}"' in home
