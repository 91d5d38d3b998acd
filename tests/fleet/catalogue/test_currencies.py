"""Currencies by code, and amounts as whole numbers of their smallest unit."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis.strategies import integers, sampled_from

from fleet.catalogue.currencies import (
    CURRENCY_DIGITS,
    UnknownCurrency,
    from_smallest_units,
    in_smallest_units,
    smallest_unit,
)
from fleet.place_format import NEUTRAL, money_text, using


@given(units=integers(-(10**15), 10**15), currency=sampled_from(sorted(CURRENCY_DIGITS)))
def test_an_amount_goes_through_its_smallest_unit_and_back_unchanged(units, currency):
    assert in_smallest_units(from_smallest_units(units, currency), currency) == units


def test_each_currency_has_the_digits_of_its_smallest_unit():  # ISO 4217: EUR 2, JPY 0, KWD 3 (from memory)
    assert [CURRENCY_DIGITS[code] for code in ("EUR", "JPY", "KWD")] == [2, 0, 3]
    assert smallest_unit("KWD") == Decimal("0.001")


def test_every_code_is_three_capital_letters():
    assert all(len(code) == 3 and code.isalpha() and code.isupper() for code in CURRENCY_DIGITS)


def test_a_part_of_the_smallest_unit_and_an_unknown_code_are_refused():
    with pytest.raises(ValueError, match="more digits than the currency"):
        in_smallest_units(Decimal("0.5"), "JPY")
    with pytest.raises(UnknownCurrency, match="ISO 4217"):
        smallest_unit("XYZ")


@pytest.mark.parametrize(
    ("amount", "currency", "words"),
    [
        ("12400", "EUR", "12,400 EUR"),
        ("12.5", "EUR", "12.50 EUR"),
        ("-3", "JPY", "−3 JPY"),
        ("0.1", "KWD", "0.100 KWD"),
    ],
)
def test_an_amount_is_written_with_its_currency(amount, currency, words):
    assert money_text(Decimal(amount), currency) == words


def test_a_place_with_a_comma_parts_thousands_by_a_space():
    with using(replace(NEUTRAL, decimal=",")):
        assert money_text(Decimal("12400.50"), "EUR") == "12\N{NARROW NO-BREAK SPACE}400,50 EUR"
