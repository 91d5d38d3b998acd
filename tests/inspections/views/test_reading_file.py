"""A step filled from a file of an instrument: columns assigned once, each value shown, all stored or none."""

import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from inspections.actions import set_not_tested
from inspections.models import Reading, ReadingFileMapping
from tests.factories import NOON, make_instrument, make_person, make_site
from tests.inspections.scenes import enter

FILE = "No;Oxygen (kPa);Other gas\n1;310,3;4,0\n2;241,3;4,0\n3;172,4;0,2\n"
COLUMNS = {"to_1": "falling.*.pressure", "unit_1": "kPa", "to_2": "falling.*.flow", "unit_2": "L/min", "decimal": ","}
SWEEP = ["310.3 kPa", "4.0 L/min", "241.3 kPa", "4.0 L/min", "172.4 kPa", "0.2 L/min"]


@pytest.fixture(autouse=True)
def noon(time_machine):
    time_machine.move_to(NOON, tick=False)


@pytest.fixture
def ana(scene, client):
    client.force_login(scene.technician)
    return client


@pytest.fixture
def logger(scene):
    return make_instrument(site=scene.machine.site, name="Logger type 3")


def url(scene, code="supply-failure"):
    return reverse("inspections:reading_file", args=[scene.inspection.pk, scene.step(code).pk])


def send(client, scene, text=FILE, instrument=""):
    data = text if isinstance(text, bytes) else text.encode()
    return client.post(url(scene), {"file": SimpleUploadedFile("log.csv", data), "instrument": instrument})


def hidden(page):
    """What a form of the page sends back by itself."""
    fields = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', page.text)
    return {name: value for name, value in fields if name != "csrfmiddlewaretoken"}


def assign(client, scene, page, **columns):
    return client.post(url(scene), {**hidden(page), **COLUMNS, **columns})


def confirm(client, scene, page, **said):
    return client.post(url(scene), {**hidden(page), "stage": "values", **said})


def stored():
    return [str(reading) for reading in Reading.objects.current().order_by("row", "-column")]


def test_a_file_is_assigned_once_confirmed_and_stored_as_typed_readings_are(ana, scene, logger):
    columns = send(ana, scene, instrument=logger.pk)
    assert "Say once where each column goes" in columns.text and "310,3; 241,3; 172,4" in columns.text
    values = assign(ana, scene, columns)
    assert "Oxygen pressure, row 3" in values.text and "172.4 kPa" in values.text and stored() == []
    answer = confirm(ana, scene, values)
    assert (answer.status_code, answer.url) == (302, scene.step_url)
    assert stored() == SWEEP
    assert {reading.instrument for reading in Reading.objects.all()} == {logger}
    assert {reading.zero for reading in Reading.objects.filter(column="pressure")} == {"gauge"}
    assert "6 readings stored from the file." in ana.get(scene.step_url).text


def test_a_header_with_the_name_of_a_place_and_a_unit_suggests_both(ana, scene):
    columns = send(ana, scene, "Oxygen pressure (kPa);Flow of the other gas [mL/min]\n300;4000\n")
    for chosen in ("falling.*.pressure", "kPa", "falling.*.flow", "mL/min"):
        assert f'<option value="{chosen}" selected>' in columns.text


def test_the_next_file_with_the_same_headers_needs_one_confirmation(ana, scene, logger):
    like = make_instrument(site=scene.machine.site, name=logger.name)
    confirm(ana, scene, assign(ana, scene, send(ana, scene, instrument=logger.pk)))
    mapping = ReadingFileMapping.objects.get()
    assert (mapping.instrument, mapping.test_code, mapping.decimal) == ("Logger type 3", "supply-failure", ",")
    values = send(ana, scene, FILE.replace("310,3", "320"), instrument=like.pk)
    assert "The columns go where they went last time." in values.text and "320 kPa" in values.text
    assert "Say once" in send(ana, scene, FILE.replace("Other gas", "Gas"), instrument=like.pk).text
    assert "Say once" in send(ana, scene, instrument=scene.gauge.pk).text
    again = ana.post(url(scene), {**hidden(values), "stage": "again"})
    assert '<option value="falling.*.pressure" selected>' in again.text


def test_a_reading_that_is_there_is_asked_about_and_stays_unless_it_is_ticked(ana, scene):
    scene.enter("falling", "45", row=0, column="pressure", unit="psi", instrument=scene.gauge)
    scene.enter("falling", "0.2", row=2, column="flow", unit="L/min")
    values = assign(ana, scene, send(ana, scene))
    assert (
        "1 place already holds another reading" in values.text and "replace 45 psi of Ana Ferro, 12:00" in values.text
    )
    assert values.text.count("the same") == 1
    confirm(ana, scene, values)
    assert stored() == ["45 psi", *SWEEP[1:]]
    values = send(ana, scene)
    confirm(ana, scene, values, replace="falling.0.pressure")
    assert stored() == SWEEP and Reading.objects.filter(superseded_at__isnull=False).count() == 1


def test_a_reading_entered_by_another_person_meanwhile_stops_the_whole_file(ana, scene):
    values = assign(ana, scene, send(ana, scene))
    enter(scene.step(), "falling", row=2, column="pressure", as_read="25", unit="psi", by=scene.other, at=NOON)
    answer = confirm(ana, scene, values)
    assert answer.status_code == 422
    assert "Rui Serra has entered 25 psi meanwhile. Nothing of the file was stored." in answer.text
    assert "replace 25 psi of Rui Serra" in answer.text
    assert stored() == ["25 psi"] and not ReadingFileMapping.objects.exists()
    confirm(ana, scene, answer)
    assert stored() == [*SWEEP[:4], "25 psi", SWEEP[5]]


def test_what_a_typed_reading_is_asked_about_is_asked_about_a_file_too(ana, scene):
    columns = send(ana, scene, "No;P\n1;45\n")
    confirm(ana, scene, assign(ana, scene, columns, to_1="full_pressure", to_2="", unit_2=""))
    assert stored() == ["45 kPa"]
    assert Reading.objects.get().questions.count() == 1


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ("310,3;=1+3", "It is a formula. Accepted: its value."),
        ("310,3;4 psi", "“psi” is a unit of pressure. Accepted: L/min"),
        ("1.234;4", "can be read as 1,234 or as 1234"),
        ("x12;4", "is not a number"),
        ("99999999;4", "is not plausible"),
    ],
)
def test_one_value_that_does_not_fit_leaves_all_of_them_out(ana, scene, cells, words):
    values = assign(ana, scene, send(ana, scene, f"{FILE}4;{cells}\n"))
    assert words in values.text and "so none is" in values.text and "Store these readings" not in values.text
    assert confirm(ana, scene, values).status_code == 422
    assert stored() == []


def test_too_many_rows_and_a_second_value_for_a_single_reading_are_refused(ana, scene):
    long = "No;P;F\n" + "".join(f"{row};300;4\n" for row in range(61))
    assert "Accepted: 60 rows of the table at most." in assign(ana, scene, send(ana, scene, long)).text
    values = assign(ana, scene, send(ana, scene), to_1="full_pressure")
    assert "This place takes one value, and line 2 has one." in values.text


def test_lines_that_are_blank_in_the_columns_of_a_table_take_no_row(ana, scene):
    text = "No;Oxygen (kPa);Other gas\n1;310,3;4,0\n2;;\n3;241,3;\n"
    confirm(ana, scene, assign(ana, scene, send(ana, scene, text)))
    assert {reading.slot: str(reading) for reading in Reading.objects.current()} == {
        ("falling", 0, "pressure"): "310.3 kPa",
        ("falling", 0, "flow"): "4.0 L/min",
        ("falling", 1, "pressure"): "241.3 kPa",
    }


@pytest.mark.parametrize(
    ("columns", "words"),
    [
        ({"unit_1": "L/min"}, "takes no L/min. Accepted: "),
        ({"to_2": "falling.*.pressure", "unit_2": "kPa"}, "“Oxygen (kPa)” goes there already."),
        ({"to_1": "", "to_2": ""}, "No column goes anywhere."),
        ({"to_1": "no.*.place"}, "Select a valid choice"),
    ],
)
def test_columns_that_cannot_be_are_refused_with_what_is_accepted(ana, scene, columns, words):
    answer = assign(ana, scene, send(ana, scene), **columns)
    assert answer.status_code == 422 and words in answer.text


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "The file is empty."),
        (b"P;F\n1;\0", "zero bytes"),
        (b"%PDF-1.7", "is a PDF"),
        ((";".join(["P"] * 5000) + "\n1;2\n").encode(), "Accepted: at most"),
    ],
)
def test_a_hostile_file_is_refused_with_a_sentence(ana, scene, data, words):
    answer = send(ana, scene, data)
    assert answer.status_code == 422 and words in answer.text


def test_a_page_that_was_changed_on_its_way_or_sent_without_a_file_stores_nothing(ana, scene):
    values = assign(ana, scene, send(ana, scene))
    for stage in ("columns", "again", "values"):
        answer = ana.post(
            url(scene), {**hidden(values), "stage": stage, "carried": hidden(values)["carried"][:-2] + "xx"}
        )
        assert (answer.status_code, answer.url) == (302, url(scene))
    assert ana.post(url(scene), {}).status_code == 422
    assert "There is no file and no text." in ana.post(url(scene), {"stage": "no"}).text
    assert stored() == []


def test_the_page_is_for_those_who_enter_readings_at_the_site_while_the_inspection_is_in_progress(client, scene):
    client.force_login(make_person("auditor"))
    assert client.get(url(scene)).status_code == 403
    client.force_login(make_person("technician", sites=[make_site()]))
    assert client.get(url(scene)).status_code == 404
    client.force_login(scene.technician)
    assert client.get(url(scene)).status_code == 200 and client.get(url(scene, "alarm")).status_code == 404
    assert url(scene) in client.get(scene.step_url).text
    values = assign(client, scene, send(client, scene))
    scene.complete()
    scene.sign()
    assert confirm(client, scene, values).url == scene.inspection.get_absolute_url()
    assert client.get(url(scene)).url == scene.inspection.get_absolute_url()
    assert not ReadingFileMapping.objects.exists()


def test_the_pages_cost_as_many_queries_for_sixty_rows_as_for_three(ana, scene, django_assert_num_queries):
    long = "No;Oxygen (kPa);Other gas\n" + "".join(f"{row};300;4\n" for row in range(60))
    for text in (FILE, long):
        columns = send(ana, scene, text)
        with django_assert_num_queries(12):
            values = assign(ana, scene, columns)
        assert values.status_code == 200
    assert values.text.count("300 kPa") == 60


def test_a_step_marked_as_not_tested_takes_no_file(ana, scene):
    set_not_tested(scene.step(), reason="No oxygen today.", by=scene.technician, at=NOON)
    assert url(scene) not in ana.get(scene.step_url).text
