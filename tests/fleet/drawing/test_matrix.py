"""The cover matrix on paper shows each state of each machine in its column."""

import pytest
from hypothesis import given
from hypothesis.strategies import integers, lists, sampled_from, text
from pytest import approx
from reportlab.graphics.shapes import Circle, Polygon, Rect

from fleet.drawing import FEATURE_MARKS, MatrixColumn, MatrixRow, matrix, rows_that_fit, to_svg
from tests.drawing_reader import leaves, stays_inside, svg_texts, texts

COLUMNS = [MatrixColumn("oxygen supply-failure protection", True), MatrixColumn("vaporizer exclusion")]


def row(*states, label="NR-014", note="North Wing, theatre 2"):
    return MatrixRow(label, note, states)


def test_each_state_has_its_own_sign():
    columns = [MatrixColumn(name) for name in FEATURE_MARKS]
    drawing = matrix([row(*FEATURE_MARKS)], columns, 500)
    kinds = [type(shape) for shape, _ in leaves(drawing) if isinstance(shape, Circle | Rect | Polygon)]
    assert kinds == [Circle, Rect, Circle, Polygon, Circle]  # the absent one is a stroke


def test_a_feature_that_does_not_apply_is_left_blank():
    drawing = matrix([row("", "")], COLUMNS, 500)
    assert not [shape for shape, _ in leaves(drawing) if isinstance(shape, Circle | Rect | Polygon)]


def test_a_row_with_too_few_states_is_refused_by_name():
    with pytest.raises(ValueError, match='"NR-014" has 1 states for 2 columns'):
        matrix([row("fitted")], COLUMNS, 500)


def test_the_words_of_rows_and_columns_are_there_on_page_and_paper():
    drawing = matrix([row("fitted", "not fitted")], COLUMNS, 500)
    words = {"NR-014", "North Wing, theatre 2", *(column.label for column in COLUMNS)}
    assert set(texts(drawing)) == words == set(svg_texts(to_svg(drawing, "Cover")))


def test_signs_of_one_column_stand_above_each_other_and_columns_evenly_apart():
    columns = [MatrixColumn("a"), MatrixColumn("b"), MatrixColumn("c")]
    drawing = matrix([row("fitted", "fitted", "fitted")] * 2, columns, 500)
    places = [mmat[4] for shape, mmat in leaves(drawing) if isinstance(shape, Circle)]
    assert places[:3] == approx(places[3:]) and places[1] - places[0] == approx(places[2] - places[1])


@given(integers(1, 60), integers(1, 24))
def test_as_many_rows_as_are_said_to_fit_do_fit(height_mm, width_columns):
    columns = [MatrixColumn(f"feature {number}") for number in range(width_columns)]
    height = 60 + 10 * height_mm
    count = rows_that_fit(height, columns)
    drawing = matrix([row(*["fitted"] * width_columns)] * count, columns, 520)
    assert height - 1.75 * 8 - 2 <= drawing.height <= height + 2


@given(lists(text(max_size=60), min_size=1, max_size=24), text(max_size=60), sampled_from(FEATURE_MARKS))
def test_no_name_however_long_runs_out_of_the_paper(names, machine, state):
    columns = [MatrixColumn(name, True) for name in names]
    drawing = matrix([row(*[state] * len(names), label=machine, note=machine)], columns, 520)
    assert stays_inside(drawing)
