"""The numbers of a cover report against the fleet of conftest.py, counted by hand."""

from datetime import date, timedelta

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet.catalogue import FEATURES
from fleet.catalogue.gaps import Standing
from fleet.cover_report import CoverFilter, build_report, machine_rows, select_machines
from fleet.cover_report.queries import Unneeded
from tests.factories import TODAY, make_machine, make_model
from tests.fleet.cover_report.conftest import RETROFITTED


def wanted(**given):
    return CoverFilter(**{"on": TODAY, "today": TODAY, **given})


def report_of(asked):
    unneeded = Unneeded()
    machines = select_machines(asked, None, unneeded)
    return machines.with_place(), build_report(machines, asked, unneeded)


def total(report, code):
    return next(total for total in report.totals if total.feature.code == code)


def counts(total):
    return (total.covered, total.gap, total.doubt, total.replaced, total.does_not_apply)


@pytest.mark.parametrize(
    "code, expected",
    [
        ("ratio-protection", (1, 1, 0, 1, 1)),  # A-2; A-1; -; A-4; A-3
        ("vaporizer-exclusion", (2, 2, 0, 0, 0)),
        ("outlet-retention", (2, 1, 1, 0, 0)),  # A-1; A-2
        ("scavenging-breathing-size", (2, 1, 1, 0, 0)),  # absent; A-1; A-3 never recorded
        ("electronic-mixing", (1, 0, 3, 0, 0)),  # A-4; the others never recorded
    ],
)
def test_each_protection_is_counted_as_by_hand(fleet, code, expected):
    _, report = report_of(wanted())
    assert report.machines == 4
    assert counts(total(report, code)) == expected


def test_an_unwanted_thing_is_fitted_where_it_is_a_gap(fleet):
    _, report = report_of(wanted())
    size = total(report, "scavenging-breathing-size")
    assert (size.fitted, size.not_fitted) == (1, 2)


def test_the_share_of_gaps_counts_only_machines_where_the_protection_applies(fleet):
    _, report = report_of(wanted())
    assert total(report, "ratio-protection").gap_share == pytest.approx(1 / 3)


def test_a_protection_that_applies_to_no_machine_has_no_share(fleet):
    _, report = report_of(wanted(model=fleet["A-3"].model))
    assert total(report, "ratio-protection").gap_share is None


def test_the_state_of_a_past_day_is_reported_for_that_day(fleet):
    _, report = report_of(wanted(on=RETROFITTED - timedelta(days=1)))
    assert report.machines == 5  # A-5 was not retired then
    assert counts(total(report, "ratio-protection")) == (0, 3, 0, 1, 1)


def test_a_machine_that_was_not_in_the_register_yet_is_left_out(fleet):
    make_machine(asset_number="A-6", in_use_from=date(2024, 1, 1))
    _, report = report_of(wanted(on=date(2023, 12, 31)))
    assert report.machines == 5
    assert report_of(wanted(on=date(2024, 1, 1)))[1].machines == 6


@pytest.mark.parametrize(
    "asked, expected",
    [
        ({"feature": "ratio-protection", "standing": "gap"}, ["A-1"]),
        ({"feature": "ratio-protection", "standing": "covered"}, ["A-2"]),
        ({"feature": "ratio-protection", "standing": "replaced"}, ["A-4"]),
        ({"feature": "ratio-protection", "standing": "does not apply"}, ["A-3"]),
        ({"feature": "outlet-retention", "standing": "doubt"}, ["A-2"]),
        ({"feature": "scavenging-breathing-size", "standing": "gap"}, ["A-1"]),
        ({"feature": "scavenging-breathing-size", "standing": "doubt"}, ["A-3"]),
        ({"feature": "vaporizer-exclusion", "standing": "gap"}, ["A-1", "A-2"]),
        ({"standing": "gap"}, ["A-1", "A-2"]),
        ({"hazard": "two-agents", "standing": "gap"}, ["A-1", "A-2"]),
        ({"status": "retired"}, ["A-5"]),
        ({"status": "all"}, ["A-1", "A-2", "A-3", "A-4", "A-5"]),
        ({"status": "withdrawn"}, []),
    ],
)
def test_a_list_holds_the_machines_it_names(fleet, asked, expected):
    machines, report = report_of(wanted(**asked))
    assert [machine.asset_number for machine in machines] == expected
    assert report.machines == len(expected)


def test_places_are_filtered_and_added_up(fleet):
    _, report = report_of(wanted())
    assert [(site.name, site.machines, site.with_gap) for site in report.sites] == [("North", 2, 2), ("South", 2, 0)]
    assert report.sites[0].areas[0].gaps == 5  # ratio, exclusion, retention, scavenging; A-2: exclusion
    assert report.with_gap == 2 and report.gaps == 5
    machines, report = report_of(wanted(site=fleet["A-3"].site))
    assert [machine.asset_number for machine in machines] == ["A-3", "A-4"] and report.with_gap == 0


def test_a_hazard_counts_each_machine_once(fleet):
    _, report = report_of(wanted())
    hazards = {each.hazard.code: each.machines for each in report.hazards}
    assert hazards["hypoxic-mixture"] == 1  # ratio protection
    assert hazards["two-agents"] == 2
    assert hazards["no-fresh-gas"] == 1  # A-1 lacks outlet retention
    assert hazards["fire"] == 0


def test_a_desirable_protection_that_is_lacking_is_shown_but_not_counted(db):
    make_machine(features={"electronic-mixing": "not fitted"})
    _, report = report_of(wanted())
    assert total(report, "electronic-mixing").gap == 1
    assert report.gaps == 0 and report.with_gap == 0
    assert report_of(wanted(feature_class="desirable"))[1].gaps == 1


def test_a_machine_without_ventilator_lacks_no_protection_of_one(db):
    make_machine(model=make_model(lacks=["ventilator"], features={"apl-excluded": "not fitted"}))
    _, report = report_of(wanted())
    assert counts(total(report, "apl-excluded")) == (0, 0, 0, 0, 1)


def test_the_filter_by_class_and_hazard_keeps_their_columns():
    assert {f.feature_class for f in wanted(feature_class="unwanted").columns} == {"unwanted"}
    assert all("fire" in f.hazards for f in wanted(hazard="fire").columns)
    assert "ratio-protection" in [f.code for f in wanted(feature_class="unwanted", feature="ratio-protection").columns]


SOME = ["ratio-protection", "electronic-mixing", "vaporizer-exclusion", "scavenging-breathing-size", "apl-excluded"]
STATES = st.dictionaries(st.sampled_from(SOME), st.sampled_from(["fitted", "not fitted", "not known"]))
KINDS = st.fixed_dictionaries(
    {
        "gases": st.sampled_from([["oxygen"], ["oxygen", "air"], ["oxygen", "nitrous-oxide"]]),
        "vaporizer_positions": st.sampled_from([0, 1, 2]),
        "lacks": st.sampled_from([[], ["ventilator"], ["ventilator", "scavenging"]]),
    }
)


ORDER = (Standing.COVERED, Standing.GAP, Standing.DOUBT, Standing.REPLACED, Standing.DOES_NOT_APPLY)


@settings(max_examples=10, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(st.lists(st.tuples(KINDS, STATES), min_size=1, max_size=3))
def test_the_database_counts_what_the_catalogue_judges_machine_by_machine(db, kinds):
    with transaction.atomic():
        for fields, features in kinds:
            make_machine(model=make_model(features=features, **fields))
        machines, report = report_of(wanted())
        rows = list(machine_rows(machines, wanted()))
        for index, each in enumerate(report.totals):
            standings = [row.cells[index].judged.standing for row in rows]
            assert counts(each) == tuple(standings.count(standing) for standing in ORDER), each.feature.code
            for standing in ORDER if each.feature.code in SOME else ():
                asked = wanted(feature=each.feature.code, standing=str(standing))
                assert select_machines(asked, None, Unneeded()).count() == standings.count(standing)
        transaction.set_rollback(True)


def test_a_protection_that_is_fitted_beside_its_stand_in_counts_once(db):
    make_machine(features={"ratio-protection": "fitted", "electronic-mixing": "fitted"})
    _, report = report_of(wanted())
    assert counts(total(report, "ratio-protection")) == (1, 0, 0, 0, 0)


def test_every_protection_of_the_catalogue_is_a_column():
    assert {feature.code for feature in wanted().columns} == set(FEATURES)


@pytest.mark.parametrize(
    "asked, words",
    [
        ({}, ""),
        ({"feature": "ratio-protection", "standing": "gap"}, "minimum oxygen ratio protection not fitted"),
        (
            {"feature": "apl-excluded", "standing": "doubt"},
            "APL valve excluded during mechanical ventilation not known",
        ),
        ({"feature": "measured-flow-vaporizer", "standing": "gap"}, "measured-flow vaporizer present"),
        ({"standing": "gap"}, "any safety feature that counts: not fitted"),
    ],
)
def test_a_list_says_in_words_what_it_holds(asked, words):
    assert wanted(**asked).question == words
