import pytest
from django.urls import reverse

from fleet.actions import withdraw_machine
from fleet.models import MachineModel, Site
from tests.factories import NOON, make_area, make_machine, make_model, make_person, make_site

SITES = reverse("fleet:sites")
MODELS = reverse("fleet:models")


@pytest.fixture
def planner(client, db):
    person = make_person("planner")
    client.force_login(person)
    return person


def test_an_area_below_its_minimum_stands_out(client, planner):
    area = make_area(minimum_machines=2)
    withdraw_machine(make_machine(area=area), by=None, at=NOON, reason="Worn")
    make_machine(area=area)
    page = client.get(SITES)
    (shown,) = page.context["page"][0].areas.all()
    assert (shown.in_service, shown.withdrawn) == (1, 1)
    assert "Below minimum" in page.content.decode()


@pytest.mark.parametrize(("machines", "told"), [(1, "At minimum"), (2, "Above minimum")])
def test_an_area_at_or_above_its_minimum_says_so(client, planner, machines, told):
    area = make_area(minimum_machines=1)
    for _ in range(machines):
        make_machine(area=area)
    assert told in client.get(SITES).content.decode()


def test_the_sites_ask_the_same_number_of_queries_for_many_areas(client, planner, django_assert_num_queries):
    site = make_site()
    for count in (3, 30):
        for _ in range(count):
            make_machine(area=make_area(site))
        client.get(SITES)
        with django_assert_num_queries(9):
            client.get(SITES)


def test_a_planner_changes_the_minimum_of_an_area(client, planner):
    area = make_area(name="Suite")
    url = reverse("fleet:area_edit", args=[area.pk])
    assert client.post(url, {"name": "Suite", "minimum_machines": "3"}).headers["Location"] == SITES
    area.refresh_from_db()
    assert area.minimum_machines == 3


def test_an_area_name_stands_once_at_a_site(client, planner):
    area = make_area(name="Suite")
    make_area(area.site, name="Annexe")
    page = client.post(reverse("fleet:area_edit", args=[area.pk]), {"name": "annexe", "minimum_machines": "1"})
    assert "has an area called" in page.content.decode()


def test_a_planner_changes_the_altitude_of_a_site(client, planner):
    site = make_site()
    data = {"name": site.name, "altitude_m": "1640", "time_zone": "Europe/Lisbon"}
    client.post(reverse("fleet:site_edit", args=[site.pk]), data)
    site.refresh_from_db()
    assert (site.altitude_m, site.time_zone) == (1640, "Europe/Lisbon")


@pytest.mark.parametrize(
    ("changed", "told"), [({"altitude_m": "9000"}, "5500"), ({"time_zone": "Mars/Base"}, "is not a time zone")]
)
def test_a_site_that_cannot_be_is_told(client, planner, changed, told):
    site = make_site()
    data = {"name": site.name, "altitude_m": "0", "time_zone": "UTC"} | changed
    assert told in client.post(reverse("fleet:site_edit", args=[site.pk]), data).content.decode()


def test_places_are_guarded(client, db):
    area = make_area()
    urls = [reverse("fleet:area_edit", args=[area.pk]), reverse("fleet:site_edit", args=[area.site_id])]
    for group in ("technician", "manager", "auditor"):
        client.force_login(make_person(group))
        assert [client.post(url, {}).status_code for url in urls] == [403, 403]
    client.force_login(make_person("planner", sites=[make_site()]))
    assert [client.post(url, {}).status_code for url in urls] == [404, 404]
    assert area.name not in client.get(SITES).content.decode()
    client.force_login(make_person("planner"))
    assert [client.put(url).status_code for url in urls] == [405, 405]


def test_the_models_show_how_many_of_each_a_person_may_see(client, db):
    model, site = make_model(name="Quarto"), make_site()
    make_machine(model=model, area=make_area(site))
    make_machine(model=model)
    client.force_login(make_person("auditor", sites=[site]))
    (row,) = client.get(MODELS).context["table"].page.object_list
    assert (row.record.in_service, row.record.withdrawn) == (1, 0)


def test_the_models_ask_the_same_number_of_queries_for_many(client, planner, django_assert_num_queries):
    for count in (3, 27):
        for _ in range(count):
            make_machine()
        client.get(MODELS)
        with django_assert_num_queries(7):
            client.get(MODELS)


def test_a_model_page_shows_what_was_there_when_new_and_its_machines(client, planner):
    model = make_model(name="Quarto", features={"o2-supply-alarm": "not fitted"})
    machine = make_machine(model=model)
    response = client.get(model.get_absolute_url())
    assert response.context["groups"][0].lines[0].feature.code == "o2-supply-alarm"
    assert machine.asset_number in response.content.decode()


def test_the_models_are_for_those_who_may_see_machines(client, db):
    client.force_login(make_person())
    assert [client.get(url).status_code for url in (MODELS, make_model().get_absolute_url(), SITES)] == [403] * 3


def test_a_planner_enters_a_site_and_its_area(client, planner):
    client.post(
        reverse("fleet:site_add"), {"code": "north", "name": "North", "altitude_m": "240", "time_zone": "Europe/Rome"}
    )
    site = Site.objects.get(code="north")
    client.post(reverse("fleet:area_add", args=[site.pk]), {"name": "Suite", "minimum_machines": "2"})
    assert [(area.name, area.minimum_machines) for area in site.areas.all()] == [("Suite", 2)]


def test_a_second_area_of_the_same_name_is_refused(client, planner):
    area = make_area(name="Suite")
    response = client.post(reverse("fleet:area_add", args=[area.site_id]), {"name": "suite", "minimum_machines": "0"})
    assert "has an area called" in response.content.decode()


MODEL = {
    "code": "four", "manufacturer": "Test works", "name": "Four", "gases": ["oxygen", "air"],
    "vaporizer_positions": "2", "lacks": ["ventilator"], "when-new-o2-analyser": "fitted", "when-new-control-guard": "",
}  # fmt: skip


def test_a_planner_enters_a_model_with_what_it_had_when_new(client, planner):
    response = client.post(reverse("fleet:model_add"), MODEL)
    model = MachineModel.objects.get()
    assert response.headers["Location"] == model.get_absolute_url()
    assert (model.gases, model.lacks) == (["oxygen", "air"], ["ventilator"])
    assert [(row.feature, row.state) for row in model.features.all()] == [("o2-analyser", "fitted")]


def test_correcting_a_model_leaves_the_machines_as_recorded(client, planner):
    model = make_model(features={"o2-analyser": "not fitted"})
    machine = make_machine(model=model)
    client.post(reverse("fleet:model_edit", args=[model.pk]), MODEL)
    assert [(row.feature, row.state) for row in model.features.all()] == [("o2-analyser", "fitted")]
    assert machine.feature_states.get().state == "not fitted"


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"gases": ["air"]}, "Choose oxygen as well"),
        ({"first_built": "1990", "last_built": "1980"}, "1980 is before 1990"),
        ({"when-new-o2-analyser": "perhaps"}, "Select a valid choice"),
        ({"code": "two words"}, "slug"),
        ({"vapour_free_minutes": "60"}, "purge time and its source together"),
        ({"vapour_free_source": "Instructions, 7.4"}, "purge time and its source together"),
        ({"vapour_free_minutes": "0", "vapour_free_source": "Instructions, 7.4"}, "greater than or equal to 1"),
    ],
)
def test_a_model_that_cannot_be_is_told_and_not_kept(client, planner, changed, told):
    assert told in client.post(reverse("fleet:model_add"), MODEL | changed).content.decode()
    assert not MachineModel.objects.exists()


def test_purge_times_are_listed_as_stated_for_the_models_in_service_that_give_vapour(client, planner):
    source = "Instructions for use, 7.4: 10 L/min oxygen"
    client.post(reverse("fleet:model_add"), MODEL | {"vapour_free_minutes": "60", "vapour_free_source": source})
    stated, other = MachineModel.objects.get(), make_model(name="Other")
    for model in (stated, other, make_model(name="No vapour", vaporizer_positions=0)):
        make_machine(model=model)
    make_model(name="Not in service")
    page = client.get(reverse("fleet:purge_times"))
    assert [str(row.record) for row in page.context["table"].page.object_list] == sorted([str(stated), str(other)])
    assert source in page.text and "60" in page.text and "not stated" in page.text
    assert source in client.get(stated.get_absolute_url()).text


def test_entering_places_and_models_is_for_planners(client, db):
    site, model = make_site(), make_model()
    urls = [
        reverse("fleet:site_add"),
        reverse("fleet:area_add", args=[site.pk]),
        reverse("fleet:model_add"),
        reverse("fleet:model_edit", args=[model.pk]),
    ]
    for group in ("technician", "manager", "auditor"):
        client.force_login(make_person(group))
        assert [client.post(url, {}).status_code for url in urls] == [403] * 4
    client.force_login(make_person("planner"))
    assert [client.put(url).status_code for url in urls] == [405] * 4
    client.force_login(make_person("planner", sites=[make_site()]))
    assert client.post(urls[1], {}).status_code == 404


def test_the_list_of_time_zones_holds_places_and_utc(client, planner):
    choices = client.get(reverse("fleet:site_add")).context["form"].fields["time_zone"].choices
    names = {name for _, group in choices if isinstance(group, list) for name, _ in group}
    assert {"Africa/Nairobi", "America/Argentina/Salta", "UTC"} <= names
    assert not names & {"EST", "PST8PDT", "Factory", "localtime", "US/Pacific", "Etc/GMT+5"}


def test_a_site_keeps_a_stored_time_zone_that_the_list_leaves_out(client, planner):
    site = make_site(time_zone="EST")
    page = client.get(reverse("fleet:site_edit", args=[site.pk]))
    assert page.context["form"].fields["time_zone"].valid_value("EST")


def test_a_model_shows_missing_equipment_in_words(client, planner):
    model = make_model(lacks=["mains-power"])
    assert "mains power" in client.get(model.get_absolute_url()).content.decode().replace("it needs no mains power", "")
