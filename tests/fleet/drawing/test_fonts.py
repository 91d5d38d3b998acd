"""Texts are measured before they are set."""

from hypothesis import given
from hypothesis.strategies import characters, floats, integers, text
from pytest import approx

from fleet.drawing import ITALIC, REGULAR, SEMIBOLD, fit_text, text_width, wrap_text

LETTERS = text(characters(min_codepoint=32, max_codepoint=0x17F), max_size=80)


def test_figures_are_all_equally_wide_so_that_columns_of_numbers_align():
    for font in (REGULAR, SEMIBOLD):
        assert {text_width(figure, 1000, font) for figure in "0123456789"} == {text_width("0", 1000, font)}


def test_semibold_is_wider_than_regular_and_italic_is_a_face_of_its_own():
    widths = {text_width("minimum oxygen ratio", 10, font) for font in (REGULAR, SEMIBOLD, ITALIC)}
    assert len(widths) == 3 and max(widths) == text_width("minimum oxygen ratio", 10, SEMIBOLD)


def test_a_width_grows_with_the_size():
    assert text_width("25 psi", 20) == approx(2 * text_width("25 psi", 10))


@given(LETTERS, floats(0, 400), floats(4, 30))
def test_a_fitted_text_is_never_wider_than_its_room(words, width, size):
    assert text_width(fit_text(words, width, size), size) <= width


@given(LETTERS, floats(4, 30))
def test_a_text_with_room_enough_is_left_alone(words, size):
    assert fit_text(words, text_width(words, size) + 0.01, size) == words


@given(LETTERS, floats(40, 400), integers(1, 4))
def test_wrapped_lines_fit_and_are_no_more_than_asked_for(words, width, lines):
    found = wrap_text(words, width, 10, lines=lines)
    assert len(found) <= lines and all(text_width(line, 10) <= width for line in found)


def test_wrapping_loses_no_word_where_there_is_room():
    words = "residual flow allowed after the trip"
    assert " ".join(wrap_text(words, 90, 10, lines=4)) == words
