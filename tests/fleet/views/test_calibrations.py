"""The page of a calibration, its points, and what an instrument's interval and corrections follow."""

from datetime import date, timedelta

import pytest
from django.urls import reverse

from fleet.actions import decide_calibration_rules, enter_calibration_points
from fleet.calibration.points import FOUND, LEFT, Point, ScalePoints
from fleet.changes import changes_of
from fleet.errors import InstrumentRefused
from fleet.models import Calibration, Instrument
from tests.factories import NOON, make_instrument, make_person, make_site

SCALE = {"dimension": "pressure", "unit": "kPa", "low": 0, "high": 1000, "resolution": 0.5, "of_reading_percent": 0.5}
FIELDS = {"second": "reading", "condition": "both", "expanded": "0.5", "k": "2"}


@pytest.fixture
def instrument(db):
    return make_instrument(scales=[SCALE], code="G-7")


@pytest.fixture
def calibration(instrument):
    return instrument.calibrations.get()


@pytest.fixture
def planner(client, db):
    person = make_person("planner")
    client.force_login(person)
    return person


def send(client, calibration, text, **fields):
    scale = calibration.instrument.scales.get()
    data = {"scale": scale.pk, "unit": "kPa", "text": text, **FIELDS, **fields}
    return client.post(reverse("fleet:calibration_points", args=[calibration.pk]), data)


def page_of(client, calibration):
    return client.get(calibration.get_absolute_url()).content.decode()


def stored(calibration):
    return Calibration.objects.get(pk=calibration.pk).scale_points


def test_pasted_points_are_stored_and_shown_as_a_curve_with_the_accuracy(client, planner, calibration):
    answer = send(client, calibration, "100 100.2\n500 501\n900 902")
    assert answer.headers["Location"] == calibration.get_absolute_url()
    assert [one.error for one in stored(calibration)[0].points] == pytest.approx([0.2, 1.0, 2.0])
    page = page_of(client, calibration)
    assert "<svg" in page and "as found and as left" in page and "uncertainty included" in page
    # 0.5 % is 0.5, 2.5 and 4.5 kPa, against |e| + U of 0.7, 1.5 and 2.5
    assert (page.count("<td>within</td>"), page.count("<td>within, not surely</td>")) == (2, 1)


def test_an_error_entered_is_added_to_the_reference(client, planner, calibration):
    send(client, calibration, "100; 0.2; 0.1", second="error")
    assert stored(calibration)[0].points == (Point(100.0, 100.2, 0.1),)


def test_an_instrument_found_outside_is_said_to_be_even_where_it_was_recorded_as_within(client, planner, calibration):
    send(client, calibration, "500 520 0.5 found\n500 500 0.5 left\n100 100 0.2 both")
    page = page_of(client, calibration)
    assert "Out of tolerance" in page and "Result and points disagree" in page
    Calibration.objects.update(result="adjusted")
    assert "Result and points disagree" not in page_of(client, calibration)
    assert 'class="alarm">outside' in client.get(calibration.instrument.get_absolute_url()).content.decode()
    send(client, calibration, "500 520")
    assert "Result and points disagree" in page_of(client, calibration)


def test_what_is_entered_again_replaces_the_points_of_the_scale_and_both_are_on_record(client, planner, calibration):
    send(client, calibration, "100 100.2")
    send(client, calibration, "100 100.4")
    assert [one.reading for one in stored(calibration)[0].points] == [100.4]
    told = [entry.after for entry in changes_of("instrument", calibration.instrument_id) if "Points" in entry.after]
    assert len(told) == 2 and told[0] != told[1]


@pytest.mark.parametrize(
    ("text", "fields", "words"),
    [
        ("100 one", {}, "is not a number"),
        ("100 100.2", {"unit": "°C"}, "not one of the available choices"),
        ("100 2000", {}, "outside the scale"),
        ("100 100", {"expanded": ""}, "states no uncertainty"),
        ("", {}, "This field is required"),
    ],
)
def test_points_that_cannot_be_are_refused_with_a_sentence(client, planner, calibration, text, fields, words):
    page = send(client, calibration, text, **fields).content.decode()
    assert words in page and stored(calibration) == []


def test_points_of_another_instrument_s_scale_are_refused(db, calibration):
    other = make_instrument().scales.first()
    with pytest.raises(InstrumentRefused, match="choose a scale"):
        enter_calibration_points(calibration, ScalePoints(other.pk, "kPa", (Point(1, 1, 1),)), by=None, at=NOON)


def test_the_form_offers_the_stored_points_of_the_scale_that_the_address_names(client, planner, calibration):
    send(client, calibration, "100 100.2 0.4 2.1 found")
    url = reverse("fleet:calibration_points", args=[calibration.pk])
    scale = calibration.instrument.scales.get().pk
    assert "100; 100.2; 0.4; 2.1; found" in client.get(url, {"scale": scale}).content.decode()
    assert client.get(url, {"scale": scale + 1}).status_code == 400


@pytest.mark.parametrize("page", ["calibration", "calibration_points"])
def test_calibrations_of_other_sites_are_not_found(client, calibration, page):
    client.force_login(make_person("planner", sites=[make_site()]))
    assert client.get(reverse(f"fleet:{page}", args=[calibration.pk])).status_code == 404


def test_a_technician_reads_points_and_enters_none(client, calibration):
    client.force_login(make_person("technician"))
    assert client.get(calibration.get_absolute_url()).status_code == 200
    assert send(client, calibration, "100 100.2").status_code == 403


def rules(client, instrument, **fields):
    return client.post(reverse("fleet:calibration_rules", args=[instrument.pk]), fields)


def test_interval_and_corrections_are_decided_by_a_person_and_on_record(client, planner, instrument):
    rules(client, instrument, applies_corrections="on", interval_months="9", longest_interval_months="12")
    held = Instrument.objects.get()
    assert (held.applies_corrections, held.interval_months, held.longest_interval_months) == (True, 9, 12)
    assert changes_of("instrument", instrument.pk).first().by == planner


def test_an_interval_beyond_the_longest_is_refused_on_the_page_and_in_the_action(client, planner, instrument):
    page = rules(client, instrument, interval_months="13", longest_interval_months="12").content.decode()
    assert "more than the longest" in page
    with pytest.raises(InstrumentRefused, match="longer than the longest"):
        decide_calibration_rules(instrument, applies_corrections=False, interval_months=13, longest_interval_months=12,
                                 by=planner, at=NOON)  # fmt: skip
    assert Instrument.objects.get().interval_months is None


def test_the_page_recommends_what_the_results_support_up_to_the_longest(client, planner, instrument, calibration):
    send(client, calibration, "100 100.05 0.1\n500 500.1 0.2")
    decide_calibration_rules(instrument, applies_corrections=False, interval_months=12, longest_interval_months=13,
                             by=planner, at=NOON)  # fmt: skip
    page = client.get(instrument.get_absolute_url()).content.decode()
    assert "Staircase: 15 months" in page and "<b>13 months</b>, the longest allowed" in page


def test_the_page_of_an_instrument_asks_the_same_number_of_queries_for_many_calibrations(
    client, planner, instrument, django_assert_num_queries
):
    scale = instrument.scales.get()
    url = instrument.get_absolute_url()
    for count in (2, 12):
        for number in range(count):
            day = date(2020, 1, 1) + timedelta(days=30 * number + count)
            one = Calibration.objects.create(
                instrument=instrument,
                calibrated_on=day,
                due_on=day + timedelta(days=365),
                certificate=f"{count}/{number}",
            )
            points = (Point(100, 100.5, 0.1, condition=FOUND), Point(100, 100, 0.1, condition=LEFT))
            enter_calibration_points(one, ScalePoints(scale.pk, "kPa", points), by=planner, at=NOON)
        client.get(url)
        with django_assert_num_queries(9):
            client.get(url)
