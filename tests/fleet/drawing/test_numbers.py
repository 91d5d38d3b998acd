"""Numbers are written by the rules of the GUM, and ticks are at round values."""

from math import log10

import pytest
from hypothesis import assume, given
from hypothesis.strategies import floats, integers
from pytest import approx

from fleet.drawing import nice_ticks, number, tick_texts, with_uncertainty


def test_a_value_is_written_to_the_last_place_of_its_uncertainty():  # Source: JCGM 100:2008, 7.2.4, from memory
    assert with_uncertainty(100.02147, 0.00079) == "100.02147 ± 0.00079"


@pytest.mark.parametrize(
    "value, uncertainty, words",
    [(10.05762, 0.027, "10.058 ± 0.027"), (27.4, 0.9, "27.40 ± 0.90"), (5012.3, 212.0, "5012 ± 212"), (42, 0, "42")],
)  # Source of the first: JCGM 100:2008, 7.2.6 (10.057 62 ohm with 27 mohm is given as 10.058 ohm), from memory
def test_two_figures_of_the_uncertainty_are_kept(value, uncertainty, words):
    assert with_uncertainty(value, uncertainty) == words


def test_a_negative_number_carries_a_true_minus_sign_and_zero_never_does():
    assert number(-3.25) == "\N{MINUS SIGN}3.25" and number(-0.001, 1) == "0.0"


def test_very_large_and_very_small_numbers_are_written_with_a_power_of_ten():
    assert number(1.5e9) == "1.5e+09" and number(2e-7) == "2e\N{MINUS SIGN}07"


def test_a_number_that_is_not_finite_is_refused():
    with pytest.raises(ValueError, match="must be finite"):
        number(float("nan"))


@given(floats(-1e6, 1e6), floats(1e-3, 1e6), integers(2, 12))
def test_ticks_lie_within_their_range_at_even_steps_of_one_two_or_five(low, span, count):
    assume(span > 1e-6 * abs(low))
    ticks = nice_ticks(low, low + span, count)
    assert len(ticks) <= count + 1 and all(low - 1e-6 * span <= tick <= low + span * (1 + 1e-6) for tick in ticks)
    if len(ticks) > 1:
        steps = [after - before for before, after in zip(ticks, ticks[1:], strict=False)]
        assert steps == approx([steps[0]] * len(steps))
        leading = steps[0] / 10 ** round(log10(steps[0]) - 0.5 + 1e-9)
        assert min(abs(leading - round_one) for round_one in (1, 2, 5, 10)) < 1e-3


@given(floats(-1e4, 1e4), floats(1e-2, 1e4), integers(2, 12))
def test_tick_texts_say_where_the_ticks_are(low, span, count):
    ticks = nice_ticks(low, low + span, count)
    for tick, words in zip(ticks, tick_texts(ticks), strict=True):
        assert float(words.replace("\N{MINUS SIGN}", "-")) == approx(tick, rel=1e-3, abs=1e-9)
