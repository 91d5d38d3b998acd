"""Points as they are typed or pasted."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.calibration.points import BOTH, FOUND, LEFT, Point
from fleet.calibration.typed_points import ERROR, PointRefused, Typing, typed_points, written_points

FIGURES = st.floats(-90, 5e4).map(lambda value: round(value, 3))
POINTS = st.builds(
    Point, FIGURES, FIGURES, st.floats(0.001, 100).map(lambda value: round(value, 3)),
    st.sampled_from([1.0, 2.0, 2.87]), st.sampled_from([FOUND, LEFT, BOTH]),
)  # fmt: skip


@given(st.lists(POINTS, min_size=1, max_size=20), st.sampled_from(".,"))
def test_what_is_written_is_read_back(points, decimal):
    assert typed_points(written_points(points, decimal), Typing("kPa", decimal=decimal)) == tuple(points)


@pytest.mark.parametrize(
    "text",
    [
        "0 0.1\n50 50.3",
        "0;0.1\n50;50.3",
        "0\t0.1\n50\t50.3",
        "0,0.1\n50,50.3",
        "True, shown\n0, 0.1\n\n50, 50.3\n",
    ],
)
def test_columns_of_any_file_are_read(text):
    assert typed_points(text, Typing("kPa", expanded=0.2)) == (Point(0, 0.1, 0.2), Point(50, 50.3, 0.2))


def test_a_decimal_comma_is_read_where_the_place_writes_one():
    assert typed_points("0,5 0,6\n1;1,1", Typing("kPa", expanded=0.1, decimal=",")) == (
        Point(0.5, 0.6, 0.1), Point(1, 1.1, 0.1),
    )  # fmt: skip


def test_an_error_is_added_to_the_reference_without_binary_noise():
    assert typed_points("0.1 0.2", Typing("kPa", ERROR, 0.1))[0].reading == 0.3


def test_a_line_states_its_own_uncertainty_factor_and_condition():
    found = typed_points("10 10.4 0.3 2.2 as found\n10; 10.0; 0.2; left", Typing("kPa", expanded=9))
    assert found == (Point(10, 10.4, 0.3, 2.2, FOUND), Point(10, 10, 0.2, 2, LEFT))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no point"),
        ("reference reading", "no point"),
        ("5", "Line 1 has 1 figures"),
        ("1 2 3 4 5", "Line 1 has 5 figures"),
        ("1 2 1\n3 four", "Line 2: “four” is not a number"),
        ("1 2", "states no uncertainty"),
        ("1 2 0", "more than 0"),
        ("1 2 -1", "more than 0"),
        ("1 2 1 0.5", "no coverage factor"),
        ("1 1e9 1", "not plausible"),
        ("1 2 1\n" * 61, "61 points"),
    ],
)
def test_what_is_no_point_is_refused_with_its_line(text, words):
    with pytest.raises(PointRefused, match=words):
        typed_points(text, Typing("kPa"))
