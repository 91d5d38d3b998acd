"""The key of the matrix explains every mark that the matrix can show."""

from hypothesis import given
from hypothesis.strategies import floats

from fleet.drawing import FEATURE_MARKS
from fleet.drawing.key import WORDS, feature_key
from tests.drawing_reader import stays_inside, texts


def test_every_state_of_a_feature_is_explained():
    assert set(FEATURE_MARKS) | {""} == set(WORDS) and set(WORDS.values()) <= set(texts(feature_key(500)))


@given(floats(200, 900))
def test_the_key_breaks_its_lines_to_stay_inside_its_width(width):
    assert stays_inside(feature_key(width))
