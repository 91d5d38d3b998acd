"""A serious incident: one press freezes, withdraws and starts the clocks; a second person closes it."""

import json
from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from fleet.canonical import canonical_json, digest_of
from fleet.models import Machine
from inspections.actions import close_incident, open_incident, report_fault
from inspections.deciding.release import reasons_against_release
from inspections.errors import IncidentRefused, RecordFrozen
from inspections.incidents.report_rules import JURISDICTIONS, REPORT_RULES, clocks
from inspections.models import SeriousIncident
from tests.factories import NOON, make_component, make_machine, make_model, make_person, make_signed_inspection
from tests.fleet.circuit_texts import SMALL

LATER = NOON + timedelta(hours=1)
FRIDAY = date(2026, 11, 27)


@pytest.fixture
def by(db):
    return make_person("technician")


@pytest.fixture
def machine(by):
    made = make_machine(model=make_model(circuit=SMALL), serial="S-9")
    make_component(made, label="Regulator", lot="R-24")
    make_signed_inspection(made, by=by)
    report_fault(made, title="Whistles", severity="other", by=by, at=NOON)
    return made


@pytest.fixture
def incident(machine, by):
    return open_incident(machine, by=by, at=LATER, jurisdiction="us")


def test_one_press_freezes_what_is_known_and_withdraws_the_machine(incident, machine, by):
    frozen = json.loads(incident.content)
    assert frozen["machine"]["serial"] == "S-9" and frozen["machine"]["status"] == "in service"
    assert [one["lot"] for one in frozen["components"]] == ["R-24"]
    assert "vaporizer" in frozen["circuit"]["file"] and frozen["open_findings"][0]["title"] == "Whistles"
    assert frozen["inspections"] and frozen["results"] and frozen["people"][0]["who"] == by.username
    assert Machine.objects.get(pk=machine.pk).status == "withdrawn"
    assert incident.digest == digest_of(incident.content) and canonical_json(frozen) == incident.content


def test_the_file_is_never_written_again(incident):
    incident.content = "{}"
    with pytest.raises(RecordFrozen, match="does not change"):
        incident.save()
    assert not incident.is_as_frozen


def test_a_second_incident_waits_for_the_first_and_only_a_second_person_closes_it(incident, machine, by):
    with pytest.raises(IncidentRefused, match="is open since"):
        open_incident(machine, by=by, at=LATER)
    with pytest.raises(IncidentRefused, match="second person"):
        close_incident(incident, reason="Reported", by=by, at=LATER)
    with pytest.raises(IncidentRefused, match="State why"):
        close_incident(incident, reason=" ", by=make_person("manager"), at=LATER)
    other = make_person("manager")
    close_incident(incident, reason="Reported, reference 7", by=other, at=LATER)
    with pytest.raises(IncidentRefused, match="already closed"):
        close_incident(incident, reason="Again", by=other, at=LATER)
    assert open_incident(machine, by=by, at=LATER).is_open


def test_a_release_waits_until_the_incident_is_closed(incident, machine, by):
    retest = make_signed_inspection(machine, by=by, at=LATER + timedelta(days=1))
    machine.refresh_from_db()
    assert any("incident" in reason for reason in reasons_against_release(machine, retest))
    close_incident(incident, reason="Reported", by=make_person("manager"), at=LATER)
    assert not any("incident" in reason for reason in reasons_against_release(machine, retest))


def test_the_page_shows_the_clocks_the_file_and_an_altered_digest(incident, by):
    client = Client()
    client.force_login(by)
    address = reverse("inspections:incident_note", args=[incident.pk])
    assert "State what is known" in client.post(address, {"text": " "}, follow=True).content.decode()
    client.post(address, {"text": "Dial at 3 %"})
    page = client.get(incident.get_absolute_url()).content.decode()
    for words in ("10 work days", "confirm locally", "21 CFR 803.10", "Gas cylinders", "Dial at 3 %", "and the same"):
        assert words in page
    file = client.get(reverse("inspections:incident_file", args=[incident.pk]))
    assert digest_of(file.content.decode()) == incident.digest
    SeriousIncident.objects.filter(pk=incident.pk).update(content="{}")
    assert "The file was altered" in client.get(incident.get_absolute_url()).content.decode()


def test_it_is_one_press_on_the_page_of_the_machine(machine, by):
    client = Client()
    client.force_login(by)
    address = reverse("inspections:incident_open", args=[machine.pk])
    assert address in client.get(machine.get_absolute_url()).content.decode()
    client.post(address, {"jurisdiction": ""})
    assert SeriousIncident.objects.get().machine == machine


@pytest.mark.parametrize(
    ("known", "within", "unit", "last"),
    # counted by hand in a calendar of November and December 2026: 27 November is a Friday
    [(FRIDAY, 10, "work days", date(2026, 12, 11)), (FRIDAY, 10, "days", date(2026, 12, 7)),
     (date(2026, 11, 28), 1, "work days", date(2026, 11, 30))],
)  # fmt: skip
def test_the_last_day_is_counted_from_the_day_after(known, within, unit, last):
    rule = next(one for one in REPORT_RULES if one.within)
    changed = type(rule)(**{**{name: getattr(rule, name) for name in rule.__slots__}, "within": within, "unit": unit})
    assert changed.last_day(known) == last


@given(st.dates(date(2000, 1, 1), date(2090, 1, 1)), st.integers(0, 40))
def test_the_clocks_run_down_a_day_a_day_and_every_rule_names_source_and_basis(first, days):
    for clock in clocks("", first, first + timedelta(days=days)):
        assert clock.rule.source and clock.rule.basis in ("seen", "from memory")
        assert clock.rule.jurisdiction in JURISDICTIONS
        if clock.last_day:
            assert clock.days_left == (clock.last_day - first).days - days
            assert clock.is_over == (first + timedelta(days=days) > clock.last_day)
