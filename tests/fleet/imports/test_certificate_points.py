"""The points of a certificate come from a file as a laboratory lists them: one a row, or found and left beside it."""

import pytest

from fleet.calibration.points import MOST_POINTS, Point
from fleet.imports import IMPORTERS, Scope, plan_import
from fleet.imports.jobs import WRITERS
from fleet.imports.uploads import parse_upload
from fleet.models import Calibration, InstrumentScale
from fleet.register_file import CERTIFICATE_POINTS, Settings
from tests.factories import NOON, TODAY, make_instrument, make_person

HEADER = "Instrument;Cert No;Units;Nominal;As found;As left;U\n"


@pytest.fixture
def gauge(db):
    return make_instrument(code="G-1")


def calibration_of(instrument):
    return Calibration.objects.get(instrument=instrument)


def read(text, person=None):
    scope = Scope.of(person, TODAY)
    parsed = parse_upload(text.encode(), CERTIFICATE_POINTS, Settings())
    return plan_import(parsed, scope)


def bring_in(text, by):
    plan = read(text)
    assert plan.problems == []
    IMPORTERS[CERTIFICATE_POINTS.code].apply(plan, by=by, at=NOON, source="test", tell=lambda *how_far: None)
    return plan


def rows_of(gauge, *lines):
    certificate = calibration_of(gauge).certificate
    return HEADER + "".join(f"G-1;{certificate};{line}\n" for line in lines)


def test_found_and_left_beside_each_other_make_two_points_and_a_comma_is_read(gauge):
    """Errors by hand: found 99.2 - 100 = -0.8 kPa and 501.5 - 500 = 1.5 kPa; left 100.1 - 100 = 0.1 kPa.

    Source: JCGM 200:2012, 4.20, an indication less the reference value.
    """
    bring_in(rows_of(gauge, "kPa;100;99,2;100,1;0,4", "kPa;500;501,5;;0,4"), make_person())
    (held,) = calibration_of(gauge).scale_points
    assert held.unit == "kPa" and InstrumentScale.objects.get(pk=held.scale).dimension == "pressure"
    assert held.points == (
        Point(100, 99.2, 0.4, 2, "found"),
        Point(100, 100.1, 0.4, 2, "left"),
        Point(500, 501.5, 0.4, 2, "found"),
    )
    assert [one.error for one in held.found] == pytest.approx([-0.8, 1.5])
    assert [one.error for one in held.left] == pytest.approx([0.1])


def test_an_error_stands_for_the_reading_and_what_is_blank_is_both_with_k_2(gauge):
    text = f"code,certificate,unit,reference,error,uncertainty\nG-1,{calibration_of(gauge).certificate},kPa,0.3,0.1,1\n"
    bring_in(text, make_person())
    assert calibration_of(gauge).scale_points[0].points == (Point(0.3, 0.4, 1, 2, "both"),)


def test_points_in_another_unit_are_added_in_the_unit_of_those_recorded(gauge):
    """1 bar = 100 kPa exactly. Source: SI brochure, 9th edition, table 8."""
    by = make_person()
    bring_in(rows_of(gauge, "kPa;100;99.2;;0.4"), by)
    plan = bring_in(rows_of(gauge, "bar;2;2.01;;0.004", "bar;1;0.992;;0.004"), by)
    assert (len(plan.created), plan.unchanged) == (1, 1)
    (held,) = calibration_of(gauge).scale_points
    assert held.unit == "kPa" and len(held.points) == 2
    assert (held.points[1].reference, held.points[1].reading) == pytest.approx((200, 201))


def test_each_scale_keeps_its_points_and_the_ends_tell_scales_of_one_unit_apart(db):
    small = {"dimension": "pressure", "unit": "kPa", "low": 0, "high": 10, "resolution": 0.01}
    gauge = make_instrument(code="G-1", scales=[small, small | {"high": 1000, "resolution": 1}])
    certificate = calibration_of(gauge).certificate
    header = "code,certificate,unit,reference,reading,uncertainty,low,high\n"
    (problem,) = read(f"{header}G-1,{certificate},kPa,5,5.1,0.1,,\n").problems
    assert problem.message == "does not say which scale." and "0 to 10 kPa, 0 to 1000 kPa" in problem.accepted
    bring_in(f"{header}G-1,{certificate},mbar,50,51,1,,100\nG-1,{certificate},kPa,500,510,1,0,1000\n", make_person())
    by_scale = {one.scale: one for one in calibration_of(gauge).scale_points}
    lower, upper = gauge.scales.order_by("high")
    assert by_scale[lower.pk].unit == "mbar" and by_scale[upper.pk].points[0].reference == 500


@pytest.mark.parametrize(
    ("line", "column", "words"),
    [
        ("G-9;C;kPa;100;99;;0.4", "code", "not an instrument that you may change"),
        ("G-1;C-none;kPa;100;99;;0.4", "certificate", "is not recorded of G-1"),
        ("G-1;C;V;100;99;;0.4", "unit", "measures nothing"),
        ("G-1;C;kPa;;99;;0.4", "reference", "is missing"),
        ("G-1;C;kPa;100;;;0.4", "reading", "is missing"),
        ("G-1;C;kPa;100;99;;", "uncertainty", "is missing"),
        ("G-1;C;kPa;100;99;;0", "uncertainty", "not accepted as an expanded uncertainty"),
        ("G-1;C;kPa;100;990000;;1", "as_found", "not plausible"),
        ("G-1;C;kPa;100;;990000;1", "as_left", "not plausible"),
        ("G-1;C;kPa;1500;1490;;1", "as_found", "is outside the scale"),
        ("G-1;C;stone;100;99;;1", "unit", ""),
        ("G-1;C;kPa;100;99;;about 1", "uncertainty", ""),
        ("G-1;C;kPa;full;99;;1", "reference", ""),
        ("G-1;C;kPa;100;low;;1", "as_found", ""),
        ("G-1;C;;100;99;;1", "unit", "is missing"),
        ("G-1;C;stone;full;low;;about 1", "reference", ""),
    ],
)
def test_what_is_no_point_is_told_with_its_place_and_nothing_is_entered(gauge, line, column, words):
    plan = read(HEADER + line.replace("C;", f"{calibration_of(gauge).certificate};", 1) + "\n")
    found = [one for one in plan.problems if one.column == column and words in one.message]
    assert found and found[0].row == 2 and found[0].accepted
    assert not plan.is_ready and plan.created == []


@pytest.mark.parametrize(
    ("columns", "cells", "words"),
    [
        ("reading,error", "99,1", "stated more than once: reading, error"),
        ("as_found,condition", "99,left", "stands beside a reading as found"),
        ("reading,k", "99,0.5", "is no coverage factor"),
        ("reading,low", "99,7", "is not an end of a scale"),
        ("error,k", "1900,2", "gives a reading of 2000 kPa, outside the scale"),
    ],
)
def test_columns_that_contradict_each_other_are_told(gauge, columns, cells, words):
    text = f"code,certificate,unit,reference,uncertainty,{columns}\n"
    (problem,) = read(f"{text}G-1,{calibration_of(gauge).certificate},kPa,100,1,{cells}\n").problems
    assert words in problem.message


def test_a_recorded_point_is_not_changed_by_a_file_and_the_same_file_changes_nothing(gauge):
    by, text = make_person(), rows_of(gauge, "kPa;100;99.2;;0.4", "kPa;200;199;;0.4")
    bring_in(text, by)
    again = read(text)
    assert (again.problems, again.created, again.unchanged) == ([], [], 2)
    (problem,) = read(rows_of(gauge, "kPa;100;99.4;;0.4")).problems
    assert problem.message.startswith("has a recorded reading of 99.2 kPa already") and "page" in problem.accepted
    assert len(read(rows_of(gauge, "kPa;300;301;;0.4", "kPa;300;302;;0.4")).created) == 2  # the way up and back


def test_no_scale_gets_more_points_than_its_page_takes(gauge):
    lines = [f"kPa;{number};{number + 0.5};;0.4" for number in range(1, MOST_POINTS + 2)]
    (problem,) = read(rows_of(gauge, *lines)).problems
    assert problem.row == MOST_POINTS + 2 and f"the {MOST_POINTS} points" in problem.message


def test_a_person_of_another_site_enters_no_points(gauge):
    stranger = make_person(sites=[make_instrument().site])
    (problem,) = read(rows_of(gauge, "kPa;100;99.2;;0.4"), stranger).problems
    assert problem.column == "code"
    assert read(rows_of(gauge, "kPa;100;99.2;;0.4"), make_person(sites=[gauge.site])).is_ready


@pytest.mark.parametrize("fmt", ["csv", "xlsx"])
def test_an_export_that_is_imported_again_changes_nothing(gauge, fmt):
    bring_in(rows_of(gauge, "psi;14.5;14.4;14.51;0.03", "psi;29.007;29.1;;0.1"), make_person())
    importer, scope = IMPORTERS[CERTIFICATE_POINTS.code], Scope.of(None, TODAY)
    parsed = parse_upload(WRITERS[fmt](importer.rows(scope), importer.kind), CERTIFICATE_POINTS, Settings())
    plan = plan_import(parsed, scope)
    assert (plan.problems, plan.created, plan.unchanged) == ([], [], 3)
