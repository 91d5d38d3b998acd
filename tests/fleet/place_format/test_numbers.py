"""Numbers with both decimal signs: read, refused where they could be two, and written."""

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from fleet.place_format import NumberRefused, number_text, read_number, with_decimal_sign

SIGNS = st.sampled_from((".", ","))
DIGITS = st.from_regex(r"[+-]?[0-9]{1,6}(\.[0-9]{0,6})?", fullmatch=True)


def is_one_group(digits):
    """Whether the digits could be a thousand in a place whose decimal sign is the other one."""
    whole, _, decimals = digits.lstrip("+-").partition(".")
    return len(decimals) == 3 and len(whole) <= 3 and not whole.startswith("0")


@given(digits=DIGITS, sign=SIGNS)
def test_digits_in_the_sign_of_the_place_come_back_every_one_of_them(digits, sign):
    assert read_number(with_decimal_sign(digits, sign), sign) == digits


@example(digits="1.234", typed=",", place=".")
@example(digits="-999.000", typed=".", place=",")
@example(digits="0.234", typed=",", place=".")
@given(digits=DIGITS, typed=SIGNS, place=SIGNS)
def test_both_signs_are_read_everywhere_but_where_a_thousand_could_be_meant(digits, typed, place):
    if typed != place and is_one_group(digits):
        with pytest.raises(NumberRefused, match="can be read as"):
            read_number(with_decimal_sign(digits, typed), place)
    else:
        assert read_number(with_decimal_sign(digits, typed), place) == digits


@given(value=st.floats(allow_nan=False, allow_infinity=False, min_value=-1e12, max_value=1e12), sign=SIGNS)
def test_a_number_that_is_written_and_read_again_is_the_same_float(value, sign):
    assert float(read_number(number_text(value, sign), sign, exponent=True)) == value


@pytest.mark.parametrize("text", ["1,234.5", "1.234,5", "1 234", "1'234,5", "1.234.567", "12,345,678"])
@pytest.mark.parametrize("sign", [".", ","])
def test_signs_between_thousands_are_refused_with_a_sentence(text, sign):
    with pytest.raises(NumberRefused, match=r"can be read in two ways\. Write digits with one decimal sign"):
        read_number(text, sign)


@pytest.mark.parametrize("text", ["", "four", "1,2,3", "--1", "1e5", "nan", "٣", "3,1 kPa", ","])
def test_what_is_no_number_is_refused_with_both_ways_to_write_one(text):
    with pytest.raises(NumberRefused, match=r"such as 24\.5 or 24,5"):
        read_number(text)


def test_a_minus_sign_copied_from_a_page_is_a_minus():
    assert read_number("−3,50", ",") == "-3.50"
