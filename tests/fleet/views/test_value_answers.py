"""A messy register brought in by answers: each distinct value is asked about once."""

import re

import pytest
from django.urls import reverse

from fleet.errors import RegisterRefused
from fleet.imports.answering import Answer, answer_values
from fleet.imports.uploads import check_upload, confirm_upload, keep_upload, plan_upload
from fleet.imports.value_questions import questions_of
from fleet.imports.waiting import discard_waiting, read_waiting_again, waiting_lines
from fleet.models import Area, EarlierInspection, Machine, MachineModel, RegisterUpload, Site, ValueMeaning, WaitingRow
from tests.factories import NOON, TODAY, make_area, make_machine, make_model, make_person, make_site

HEADER = "asset_number,serial,model,site,area,in_use_from,last_inspected_on\n"
GOOD = "A-1,S-100,three,north,Theatre 1,2001-03-01,2026-05-01\n"


@pytest.fixture
def place(db):
    make_model(code="three", manufacturer="Hallborne", name="Three")
    return make_area(make_site(code="north", name="North Hospital"), name="Theatre 1")


@pytest.fixture
def planner(place):
    return make_person("planner")


def kept(planner, rows, header=HEADER):
    upload = keep_upload(name="list.csv", content=(header + rows).encode(), by=planner, at=NOON)
    check_upload(upload, today=TODAY)
    return upload


def confirmed(upload):
    _, plan = plan_upload(upload, today=TODAY)
    confirm_upload(upload, plan, by=upload.by, at=NOON)
    return plan


def asked(upload):
    return [
        (one.about, one.column, one.value, len(one.rows)) for one in questions_of(check_upload(upload, today=TODAY))
    ]


def answer(upload, *answers):
    answer_values(upload, answers, by=upload.by, at=NOON)


def test_each_distinct_value_is_asked_about_once(planner):
    rows = "".join(f"A-{n},S-{n}00,three,N. Hosp,Theatre 1,2001-03-01,\n" for n in range(5))
    assert asked(kept(planner, rows)) == [("name", "site", "N. Hosp", 5)]


def test_an_answer_counts_for_this_file_and_for_the_next(planner):
    row = GOOD.replace("north", "N. Hosp")
    upload = kept(planner, row)
    answer(upload, Answer("site", "N. Hosp", means="north"))
    assert asked(upload) == []
    confirmed(upload)
    assert Machine.objects.get().site.code == "north"
    assert asked(kept(planner, row.replace("A-1", "A-2").replace("100", "200").replace("N. Hosp", "n.  HOSP"))) == []


def test_the_name_of_an_area_counts_within_its_site_alone(planner, place):
    make_area(make_site(code="south", name="South Hospital"), name="Theatre 9")
    rows = GOOD.replace("Theatre 1", "Th 1") + "A-2,S-2,three,South Hospital,Th 1,2001-03-01,\n"
    upload = kept(planner, rows)
    answer(upload, Answer("area", "Th 1", "north", means="Theatre 1"))
    assert [(one.column, one.within) for one in questions_of(check_upload(upload, today=TODAY))] == [("area", "south")]


def test_good_rows_are_imported_while_the_others_wait(planner):
    upload = kept(planner, GOOD + "A-2,S-2,four,north,Theatre 1,2001-03-01,\n")
    plan = confirmed(upload)
    assert (len(plan.created), list(plan.waiting)) == (1, [3])
    assert Machine.objects.get().asset_number == "A-1"
    row = WaitingRow.objects.get()
    assert (row.number, row.key, row.problems[0][0]) == (3, "A-2", "model")


def test_rows_that_wait_are_read_again_after_an_answer(planner):
    upload = kept(
        planner, GOOD + "A-2,S-2,four,north,Theatre 1,2001-03-01,\nA-3,S-3,five,north,Theatre 1,2001-03-01,\n"
    )
    confirmed(upload)
    again = read_waiting_again(upload, by=planner, at=NOON)
    assert asked(again) == [("name", "model", "five", 1), ("name", "model", "four", 1)]
    answer(again, Answer("model", "four", means="three"))
    confirmed(again)
    assert set(Machine.objects.values_list("asset_number", flat=True)) == {"A-1", "A-2"}
    assert [row.number for row in upload.waiting.all()] == [4]


def test_waiting_rows_leave_as_the_file_wrote_them_with_their_problems(planner):
    upload = kept(planner, GOOD + "A-2,S-2,four,north,Theatre 1,2001-03-01,\n")
    confirmed(upload)
    header, lines = waiting_lines(RegisterUpload.objects.get(pk=upload.pk))
    assert header[:2] == ("asset_number", "serial") and header[-1] == "problems"
    assert [line[:3] for line in lines] == [["A-2", "S-2", "four"]] and "machine model" in lines[0][-1]


def test_a_mended_row_in_another_file_no_longer_waits(planner):
    confirmed(kept(planner, GOOD + "A-2,S-2,four,north,Theatre 1,2001-03-01,\n"))
    confirmed(kept(planner, "A-2,S-2,three,north,Theatre 1,2001-03-01,\n"))
    assert not WaitingRow.objects.exists() and Machine.objects.count() == 2


def test_discarding_names_the_number_of_rows_that_was_seen(planner):
    upload = kept(planner, GOOD + "A-2,S-2,four,north,Theatre 1,2001-03-01,\n")
    confirmed(upload)
    with pytest.raises(RegisterRefused, match="1 rows of list.csv wait now, not 2"):
        discard_waiting(upload, number=2, by=planner, at=NOON)
    assert discard_waiting(upload, number=1, by=planner, at=NOON) == 1
    with pytest.raises(RegisterRefused, match="No row of list.csv waits any more"):
        read_waiting_again(upload, by=planner, at=NOON)


def test_every_row_of_one_instrument_waits_with_its_wrong_one(planner):
    from fleet.register_file import INSTRUMENTS

    content = b"code,name,site,measures,unit,low,high,resolution\nG-1,Gauge,north,pressure,kPa,0,600,1\n"
    content += b"G-1,Gauge,north,pressure,furlong,0,600,1\nG-2,Meter,north,,,,,\n"
    upload = keep_upload(name="i.csv", content=content, by=planner, at=NOON, kind=INSTRUMENTS)
    _, plan = plan_upload(upload, today=TODAY)
    assert list(plan.waiting) == [3, 2] and [new.label for new in plan.created] == ["G-2"]


@pytest.mark.parametrize("serial", ["-", "unknown", "N/A", "?", " not  known"])
def test_a_placeholder_is_asked_about_and_may_be_left_blank(planner, serial):
    upload = kept(planner, GOOD.replace("S-100", serial))
    assert [one[:2] for one in asked(upload)] == [("placeholder", "serial")]
    answer(upload, Answer("serial", serial, means=""))
    confirmed(upload)
    assert Machine.objects.get().serial == ""


def test_a_placeholder_may_be_the_serial_number(planner):
    upload = kept(planner, GOOD.replace("S-100", "NA"))
    answer(upload, Answer("serial", "NA", is_right=True))
    assert asked(upload) == []
    confirmed(upload)
    assert Machine.objects.get().serial == "NA"


@pytest.mark.parametrize(
    ("first", "second"), [("SN1O0", "SN-100"), ("S 1I2", "S112"), ("A100", "a100"), ("A100", "A100")]
)
def test_a_serial_number_that_looks_like_another_of_the_manufacturer_is_asked_about(planner, first, second):
    rows = GOOD.replace("S-100", first) + GOOD.replace("S-100", second).replace("A-1", "A-2")
    assert asked(kept(planner, rows)) == [("near", "serial", second, 1)]


def test_a_serial_number_like_one_of_the_register_is_asked_about(planner, place):
    make_machine(asset_number="M-1", serial="S-1OO", area=place, model=MachineModel.objects.get())
    upload = kept(planner, GOOD)
    assert asked(upload) == [("near", "serial", "S-100", 1)]
    answer(upload, Answer("serial", "S-100", is_right=True))
    assert asked(upload) == []


def test_numbers_of_two_manufacturers_may_be_alike(planner, place):
    make_machine(asset_number="M-1", serial="S-100", area=place, model=make_model(manufacturer="Penrick"))
    assert asked(kept(planner, GOOD)) == []


def test_a_row_is_left_out_on_request(planner):
    upload = kept(planner, GOOD + GOOD.replace("A-1", "A-2"))
    answer(upload, Answer("serial", "S-100", left_out=(3,)))
    confirmed(upload)
    assert Machine.objects.get().asset_number == "A-1" and not WaitingRow.objects.exists()


def test_an_asset_number_that_differs_in_capitals_can_mean_the_one_of_the_register(planner, place):
    make_machine(asset_number="a-1", area=place, model=MachineModel.objects.get())
    upload = kept(planner, GOOD)
    [question] = questions_of(upload.snapshot)
    assert (question.about, question.column, question.within) == ("name", "asset_number", "a-1")
    answer(upload, Answer("asset_number", "A-1", means="a-1"))
    confirmed(upload)
    assert Machine.objects.get().serial == "S-100"


def test_the_last_inspection_is_stored_once_as_recorded_elsewhere(planner):
    for _ in range(2):
        upload = kept(planner, GOOD)
        _, plan = plan_upload(upload, today=TODAY)
        if plan.is_ready:
            confirm_upload(upload, plan, by=planner, at=NOON)
    assert [str(one.done_on) for one in EarlierInspection.objects.all()] == ["2026-05-01"]


def test_a_last_inspection_to_come_is_a_problem(planner):
    _, plan = plan_upload(kept(planner, GOOD.replace("2026-05-01", "2027-05-01")), today=TODAY)
    assert [found.column for found in plan.all_problems] == ["last_inspected_on"]


def test_sites_areas_and_models_are_made_on_request(planner):
    upload = kept(planner, "A-1,S-1,Penrick Mix,Lower Marl,Room 2,2001-03-01,\n")
    model = {"manufacturer": "Penrick", "name": "Mix", "features": {}, "gases": ["oxygen"]}
    site = {"name": "Lower Marl", "altitude_m": 40, "time_zone": "Europe/Lisbon"}
    answer(upload, Answer("model", "Penrick Mix", new=model), Answer("site", "Lower Marl", new=site))
    assert asked(upload) == [("name", "area", "Room 2", 1)]
    answer(upload, Answer("area", "Room 2", "lower-marl", new={"name": "Room 2"}))
    assert asked(upload) == []
    assert Site.objects.get(code="lower-marl").altitude_m == 40 and Area.objects.get(name="Room 2")
    assert MachineModel.objects.get(code="penrick-mix") and not ValueMeaning.objects.filter(column="model").exists()


def test_a_name_that_was_taken_meanwhile_saves_no_answer(planner):
    upload = kept(planner, GOOD.replace("north", "N. Hosp"))
    with pytest.raises(RegisterRefused, match="north hospital already"):
        answer(upload, Answer("model", "x", means="three"), Answer("site", "N. Hosp", new={"name": "north hospital"}))
    assert not ValueMeaning.objects.exists()


def test_the_page_asks_and_saves_what_was_answered(client, planner):
    client.force_login(planner)
    upload = kept(planner, GOOD.replace("north", "North Hosp."))
    page = client.get(reverse("fleet:import_values", args=[upload.pk]), {"suggest": "yes"})
    [question] = page.context["form"].questions
    assert 'value="is:north" selected' in page.content.decode()
    done = client.post(reverse("fleet:import_values", args=[upload.pk]), {question.code: "is:north"}, follow=True)
    assert "1 answers are saved" in done.content.decode() and ValueMeaning.objects.get().meaning == "north"


def test_a_page_without_an_answer_saves_nothing(client, planner):
    client.force_login(planner)
    upload = kept(planner, GOOD.replace("north", "North Hosp."))
    page = client.post(reverse("fleet:import_values", args=[upload.pk]), {})
    assert "Nothing is answered yet" in page.content.decode()


def test_a_new_site_needs_its_altitude_and_time_zone(client, planner):
    client.force_login(planner)
    upload = kept(planner, GOOD.replace("north", "Elsewhere"))
    [question] = questions_of(upload.snapshot)
    sent = {question.code: "=new", f"{question.code}-name": "Elsewhere", f"{question.code}-time_zone": "Europe/Lisbon"}
    page = client.post(reverse("fleet:import_values", args=[upload.pk]), sent).content.decode()
    assert "Enter the altitude (m) of what is to be made" in page and not Site.objects.filter(name="Elsewhere").exists()


@pytest.mark.parametrize("name", ["import_values", "waiting_rows", "waiting_again", "waiting_discard"])
def test_what_another_person_imports_is_not_found_by_a_person_of_one_site(client, planner, place, name):
    upload = kept(planner, GOOD + "A-2,S-2,four,north,Theatre 1,2001-03-01,\n")
    if name != "import_values":
        confirmed(upload)
    client.force_login(make_person("planner", sites=[place.site]))
    address = reverse(f"fleet:{name}", args=[upload.pk])
    assert (
        client.get(address) if name in ("import_values", "waiting_rows") else client.post(address)
    ).status_code == 404


def test_waiting_rows_have_a_page_a_file_and_a_second_reading(client, planner):
    client.force_login(planner)
    upload = kept(planner, GOOD + "A-2,S-2,four,north,Theatre 1,2001-03-01,\n")
    confirmed(upload)
    assert "list.csv" in client.get(reverse("fleet:waiting_files")).content.decode()
    assert re.search(
        "is not a machine model", client.get(reverse("fleet:waiting_rows", args=[upload.pk])).content.decode()
    )
    file = client.get(reverse("fleet:waiting_file", args=[upload.pk, "csv"]))
    assert b"A-2,S-2,four" in b"".join(file)
    page = client.post(reverse("fleet:waiting_again", args=[upload.pk]), follow=True)
    assert page.context["plan"]["waiting"] == 0 and len(page.context["plan"]["problems"]) == 1
    client.post(reverse("fleet:waiting_discard", args=[upload.pk]), {"number": "1"})
    assert not WaitingRow.objects.exists()


def test_a_meaning_is_listed_and_forgotten(client, planner):
    client.force_login(planner)
    upload = kept(planner, GOOD.replace("north", "N. Hosp"))
    answer(upload, Answer("site", "N. Hosp", means="north"))
    assert "n. hosp" in client.get(reverse("fleet:value_meanings")).content.decode()
    address = reverse("fleet:value_meaning_forget", args=[ValueMeaning.objects.get().pk])
    assert "means north" in client.get(address).content.decode()
    client.post(address)
    assert not ValueMeaning.objects.exists()
