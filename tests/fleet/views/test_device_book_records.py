"""The software of a machine and the people instructed on it: entered, seen, withdrawn."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.actions import instruct_users, move_machine, withdraw_book_record
from fleet.errors import RegisterRefused
from fleet.models import SoftwareVersion, UserInstruction
from tests.factories import NOON, TODAY, make_area, make_machine, make_person, make_site
from tests.fleet.device_book_rows import SAID, instruct, make_software

DAY = timedelta(days=1)


@pytest.fixture
def technician(db):
    return make_person("technician")


@pytest.fixture
def machine(technician):
    return make_machine(by=technician)


def url_of(machine):
    return reverse("fleet:software_and_users", args=[machine.pk])


def test_a_version_needs_its_source_and_a_day_that_has_come(machine, technician):
    for wrong, said in (
        ({"version": " "}, "State the version"), ({"source": ""}, "where it was read"),
        ({"installed_on": TODAY + DAY}, "in the future"),
    ):  # fmt: skip
        with pytest.raises(RegisterRefused, match=said):
            make_software(machine, technician, **wrong)
    make_software(machine, technician)
    with pytest.raises(RegisterRefused, match="already recorded"):
        make_software(machine, technician)
    assert SoftwareVersion.objects.count() == 1


def test_people_are_recorded_once_each_with_what_they_were_told(machine, technician):
    rows = instruct(machine, "Mara  Lind", "Mara Lind", "Ola Berg", valid_until=TODAY + DAY)
    assert [one.name for one in rows] == ["Mara Lind", "Ola Berg"]
    assert not rows[0].has_ended(TODAY + DAY) and rows[0].has_ended(TODAY + 2 * DAY)
    for wrong, said in (
        ({"topics": " "}, "on what"), ({"held_on": TODAY + DAY}, "in the future"),
        ({"valid_until": TODAY - DAY}, "before the instruction"),
    ):  # fmt: skip
        with pytest.raises(RegisterRefused, match=said):
            instruct(machine, "Ola Berg", **wrong)
    with pytest.raises(RegisterRefused, match="more than 60"):
        instruct_users(machine, [f"Person {n}" for n in range(61)], by=technician, at=NOON, **SAID)
    assert UserInstruction.objects.count() == 2


def test_an_instruction_on_the_model_of_an_area_counts_where_the_machine_is_or_was(machine, technician):
    neighbour = make_machine(area=machine.area, model=machine.model)
    elsewhere = make_machine(area=make_area(machine.site), model=machine.model)
    other_model = make_machine(area=machine.area)
    instruct(machine, "Mara Lind", whole_area=True)
    instruct(machine, "Ola Berg")

    def names(one):
        return {row.name for row in UserInstruction.objects.of_machine(one)}

    assert names(machine) == {"Mara Lind", "Ola Berg"}
    assert names(neighbour) == {"Mara Lind"}
    assert names(elsewhere) == names(other_model) == set()
    move_machine(neighbour, area=elsewhere.area, on=TODAY, evidence="Seen there", by=technician, at=NOON)
    neighbour.refresh_from_db()
    assert names(neighbour) == {"Mara Lind"}


def test_a_mistake_is_withdrawn_once_with_a_reason(machine, technician):
    version = make_software(machine, technician)
    with pytest.raises(RegisterRefused, match="State why"):
        withdraw_book_record(version, reason=" ", by=technician, at=NOON)
    withdraw_book_record(version, reason="Other machine", by=technician, at=NOON)
    with pytest.raises(RegisterRefused, match="withdrawn already"):
        withdraw_book_record(version, reason="Again", by=technician, at=NOON)
    make_software(machine, technician)


def test_the_page_takes_both_and_shows_them(client, machine, technician):
    client.force_login(technician)
    assert "No version is recorded" in client.get(url_of(machine)).content.decode()
    today = timezone.localdate()
    software = {"what": "software", "software-version": "4.21", "software-installed_on": today}
    refused = client.post(url_of(machine), software)
    assert refused.context["forms"]["software"].errors["source"]
    client.post(url_of(machine), software | {"software-source": "Report 77"})
    client.post(url_of(machine), {
        "what": "instruction", "instruction-whole_area": "1", "instruction-names": "Mara Lind\nOla Berg",
        "instruction-held_on": today, "instruction-instructor": "Ida Roth", "instruction-topics": "Alarms",
    })  # fmt: skip
    page = client.get(url_of(machine)).content.decode()
    assert all(words in page for words in ("4.21", "Report 77", "Mara Lind", "Ola Berg", "Ida Roth"))
    version = SoftwareVersion.objects.get()
    url = reverse("fleet:book_record_withdraw", args=[machine.pk, "software", version.pk])
    assert client.post(url, {"reason": ""}).status_code == 200
    assert client.post(url, {"reason": "Misread"}).url == url_of(machine)
    assert "Misread" in client.get(url_of(machine)).content.decode()
    assert client.get(url).status_code == 404


def test_the_queries_of_the_page_do_not_grow(client, machine, technician, django_assert_max_num_queries):
    client.force_login(technician)
    for number in range(12):
        instruct(machine, f"Person {number}", by=technician, whole_area=number % 2 == 0)
        make_software(machine, technician, version=f"4.{number}")
    with django_assert_max_num_queries(14):
        client.get(url_of(machine))


def test_others_read_and_enter_nothing_and_another_site_sees_nothing(client, machine):
    client.force_login(make_person("auditor"))
    assert client.get(url_of(machine)).status_code == 200
    assert client.post(url_of(machine), {"what": "software"}).status_code == 403
    client.force_login(make_person("technician", sites=[make_site()]))
    assert client.get(url_of(machine)).status_code == 404
    withdraw = reverse("fleet:book_record_withdraw", args=[machine.pk, "none", 1])
    client.force_login(make_person("technician"))
    assert client.get(withdraw).status_code == 404
