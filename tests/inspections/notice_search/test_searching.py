"""What a notice finds in the register, against a plain walk over every row."""

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given
from hypothesis import strategies as st

from fleet.actions import retire_machine
from inspections.models import NoticeCriterion
from inspections.notice_search.searching import candidates, found_items
from inspections.notices.answers import Match
from inspections.notices.criteria import Criterion, Facts, answer_of
from inspections.notices.ranges import read_listed
from tests.factories import NOON, TODAY, make_component, make_instrument, make_machine, make_model
from tests.fleet.circuit_texts import SMALL
from tests.inspections.notices.scenes import answers, make_notice, name, regulator, removed_regulator, searched

pytestmark = pytest.mark.django_db


def test_it_finds_what_is_concerned_what_was_and_what_cannot_be_decided():
    fitted, removed = regulator(lot="R-24"), removed_regulator(lot="R-20")
    blank, otherwise = regulator(lot=""), regulator(lot="24")
    others = [regulator(lot="R-30"), make_component(make_machine(), kind="apl-valve", lot="R-24")]
    notice = make_notice()
    name(notice)
    searched(notice)
    found = answers(notice)
    assert {key: found[key] for key in found if key[0] == "component"} == {
        ("component", fitted.pk): "concerned",
        ("component", removed.pk): "concerned",
        ("component", blank.pk): "cannot be decided",
        ("component", otherwise.pk): "cannot be decided",
    }
    assert not {("component", one.pk) for one in others} & set(found)
    assert notice.items.get(component=removed).standing == f"removed on {TODAY.isoformat()}"
    assert notice.items.get(component=blank).reason == "no lot is recorded"


def test_a_retired_machine_is_found_and_said_to_be_retired():
    machine = make_machine(serial="A1250", built_year=2012)
    retire_machine(machine, by=None, at=NOON, reason="Old")
    notice = make_notice()
    name(notice, what="machine", kind="", lots="", serials="A1200 to A1299", built_from=2010, built_to=2014)
    searched(notice)
    item = notice.items.get()
    assert (item.machine, item.match, item.standing) == (machine, "concerned", "machine retired")


def test_a_machine_without_such_a_record_cannot_be_decided_if_its_model_has_one():
    """SMALL holds a vaporizer and no regulator; of a model without a circuit nobody knows."""
    known, unknown = make_machine(model=make_model(circuit=SMALL)), make_machine()
    recorded = make_component(make_machine(), kind="vaporizer", lot="V1").machine
    notice = make_notice()
    name(notice, kind="vaporizer", lots="V1 to V3")
    searched(notice)
    found = {item.machine_id: item for item in notice.items.all()}
    assert set(found) == {known.pk, unknown.pk, recorded.pk}
    assert "machines of its model have one" in found[known.pk].reason
    assert "circuit of its model is not known" in found[unknown.pk].reason
    other = make_notice(reference="FSN-8")
    name(other)
    searched(other)
    assert known.pk not in {item.machine_id for item in other.items.all()}


def test_an_instrument_is_found_by_name_and_serial():
    wanted, other = make_instrument(name="Gas flow analyser", serial="17"), make_instrument(name="Gauge", serial="17")
    notice = make_notice()
    name(notice, what="instrument", kind="", lots="", name="flow ANALYSER", serials="10 to 20")
    searched(notice)
    assert answers(notice) == {("instrument", wanted.pk): "concerned"} and other.serial == "17"


SERIALS = st.sampled_from(["", "A1", "A2", "A03", "B2", "2", "unknown"])
YEARS = st.sampled_from([None, 1999, 2005])
CRITERIA = st.builds(
    Criterion, kind=st.sampled_from(["", "k", "l"]), manufacturer=st.sampled_from(["", "Acme"]),
    serials=st.sampled_from([None, read_listed("A1 to A3", "serial number"), read_listed("B*", "serial number")]),
    built_from=st.sampled_from([None, 2000]),
)  # fmt: skip
FACTS = st.builds(Facts, kind=st.sampled_from(["k", "l"]), manufacturer=st.sampled_from(["ACME", "Other"]),
                  serial=SERIALS, built_year=YEARS)  # fmt: skip


@given(st.lists(CRITERIA, max_size=3), FACTS)
def test_the_answer_equals_a_walk_over_all_that_the_unknown_could_be(criteria, facts):
    """Whatever year and serial it could really have: in all of them concerned, in none, or in some."""
    years = [facts.built_year] if facts.built_year else [1999, 2005]
    serials = [facts.serial] if facts.serial in ("A1", "A2", "B2") else ["A1", "B2", "Z9"]
    if facts.serial in ("A03", "2"):
        serials = ["A2", "Z9"]
    possible = {any(_holds(one, facts, serial, year) for one in criteria) for year in years for serial in serials}
    match = answer_of(criteria, facts).match
    if match is Match.CONCERNED:
        assert possible == {True}
    if match is Match.NOT_CONCERNED:
        assert possible == {False} or facts.serial == "A03" or facts.serial == "2"


def _holds(one, facts, serial, year):
    listed = {"A1 to A3": ("A1", "A2", "A3"), "B*": ("B2",)}
    entries = () if one.serials is None else one.serials.entries
    text = "" if not entries else ("A1 to A3" if hasattr(entries[0], "low") else "B*")
    return (
        one.kind in ("", facts.kind)
        and (not one.manufacturer or one.manufacturer.lower() == facts.manufacturer.lower())
        and (not text or serial in listed[text])
        and (one.built_from is None or year >= one.built_from)
    )


def test_the_database_leaves_out_what_is_of_another_kind_and_uses_the_index_for_it():
    kinds = [NoticeCriterion(what="component", kind="pressure-regulator", lots="R-1")]
    regulator(lot="R-1")
    make_component(make_machine(), kind="apl-valve", lot="R-1")
    rows = candidates("component", kinds)
    assert [one.kind for one in rows] == ["pressure-regulator"]
    if connection.vendor == "sqlite":
        assert "component_by_lot" in rows.order_by().explain()


def test_a_search_reads_in_batches_with_a_fixed_number_of_queries():
    machine = make_machine(model=make_model(circuit=SMALL))
    kinds = [NoticeCriterion(what="component", kind="pressure-regulator", lots="R-1", added_at=NOON)]

    def queries():
        with CaptureQueriesContext(
            connection,
        ) as caught:
            list(found_items(kinds))
        return len(caught)

    regulator(machine, lot="R-1", label="One")
    before = queries()
    for number in range(5):
        regulator(machine, lot=f"R-{number}", label=f"More {number}", fitted_on=date(2015, 1, 1))
        make_machine(model=machine.model)
    assert queries() <= before + 3  # machines without a record now exist; their one model is read once
