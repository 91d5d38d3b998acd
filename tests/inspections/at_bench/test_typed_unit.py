"""A number typed with any unit of the catalogue, in any spelling, is that number in that unit, or it is refused."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.catalogue.dimensions import DIMENSIONS
from fleet.place_format import using
from fleet.place_format.place import PlaceFormat
from inspections.at_bench.reading_entry import LONGEST, LONGEST_NUMBER
from inspections.at_bench.slots import Slot
from inspections.at_bench.typed_unit import read_typed
from inspections.errors import ReadingRefused
from inspections.forms.bench import read_entry

READ = [one for one in DIMENSIONS.values() if one.units and not one.is_answer]
SPELLINGS = [(one, unit.symbol, word) for one in READ for unit in one.units for word in (unit.symbol, *unit.spellings)]
NUMBERS = st.decimals(-9999, 9999, places=2).map(str) | st.integers(0, 10**6).map(str)


def slot_of(dimension, *, first=0):
    units = dimension.symbols[first:] + dimension.symbols[:first]
    return Slot("place", 0, "", "Place", dimension.code, units=units, zero="gauge" if dimension.has_zero else "")


def meant_by(word, dimension):
    """What a spelling can mean in a dimension: that written exactly so anywhere, else those with other capitals."""
    exact = {symbol for _, symbol, known in SPELLINGS if known == word}
    return exact or {
        symbol for one, symbol, known in SPELLINGS if one is dimension and known.casefold() == word.casefold()
    }


@given(
    place=st.sampled_from(SPELLINGS),
    number=NUMBERS,
    decimal=st.sampled_from(".,"),
    gap=st.sampled_from(["", " ", "  ", "\u00a0"]),
    capitals=st.sampled_from([str, str.upper, str.lower, str.title]),
)
def test_every_spelling_is_read_as_its_unit_or_refused_where_it_could_be_another(place, number, decimal, gap, capitals):
    dimension, symbol, known = place
    word = capitals(known)
    if word[0].isdigit() and not gap:
        gap = " "
    slot, text = slot_of(dimension), f" {number.replace('.', decimal)}{gap}{word} "
    meant = meant_by(word, dimension)
    if len(meant) != 1 or not meant <= set(slot.units):
        with pytest.raises(ReadingRefused):
            read_typed(slot, text)
        return
    typed = read_typed(slot, text)
    assert (typed.digits, typed.unit, typed.zero) == (number.replace(".", decimal), *meant, "")
    assert meant == {symbol} or word != known


@given(place=st.sampled_from(SPELLINGS), number=NUMBERS, decimal=st.sampled_from(".,"), first=st.integers(0, 6))
def test_a_form_stores_the_digits_and_the_unit_that_were_typed_whatever_the_box_says(place, number, decimal, first):
    dimension, symbol, word = place
    slot = slot_of(dimension, first=first % len(dimension.symbols))
    text = f"{number.replace('.', decimal)} {word}"
    if len(text) > LONGEST:
        return
    with using(PlaceFormat(decimal=decimal)):
        entry = read_entry({"place": text, "place:unit": slot.units[0]}, slot, [])
    assert (entry.as_read, entry.unit) == (number, symbol) and len(entry.as_read) <= LONGEST_NUMBER


@given(place=st.sampled_from(SPELLINGS), other=st.sampled_from(READ), number=NUMBERS)
def test_a_unit_of_another_dimension_is_refused_with_what_would_be_accepted(place, other, number):
    dimension, _, word = place
    if other is dimension or meant_by(word, other) & set(other.symbols):
        return
    with pytest.raises(ReadingRefused) as refused:
        read_typed(slot_of(other), f"{number} {word}")
    assert f"“{word}” is a unit of {dimension.name.lower()}. Accepted: {' or '.join(other.symbols)}." in str(
        refused.value
    )


@pytest.mark.parametrize(
    ("typed", "unit", "zero"),
    [
        ("45 psi gauge", "psi", "gauge"), ("45 psi abs", "psi", "absolute"), ("0.1kPa abs", "kPa", "absolute"),
        ("3,1 bar absolute", "bar", "absolute"), ("45psig", "psi", "gauge"), ("4 barA", "bar", "absolute"),
        ("20 cm H2O", "cmH2O", ""), ("20 cmH₂O", "cmH2O", ""), ("45 abs", "", "absolute"), ("45", "", ""),
    ],
)  # fmt: skip
def test_a_pressure_may_say_its_zero(typed, unit, zero):
    read = read_typed(slot_of(DIMENSIONS["pressure"]), typed)
    assert (read.unit, read.zero) == (unit, zero)


@pytest.mark.parametrize("typed", ["45 g", "45 L/min abs", "45 psi psi", "45 psi kPa", "45 p", "45 e3", "4 5 psi x"])
def test_what_names_no_unit_of_a_pressure_is_refused(typed):
    with pytest.raises(ReadingRefused, match="Accepted: kPa or psi"):
        read_typed(slot_of(DIMENSIONS["pressure"]), typed)


@given(text=st.text(max_size=60))
def test_any_text_is_refused_or_read_and_never_fails(text):
    for dimension in (DIMENSIONS["pressure"], DIMENSIONS["rate"], DIMENSIONS["resistance"]):
        try:
            entry = read_entry({"place": text}, slot_of(dimension), [])
        except ReadingRefused:
            continue
        assert entry.unit in dimension.symbols and (not entry.as_read or float(entry.as_read) is not None)


@given(text=st.text("0123456789.,+- ", max_size=12))
def test_a_number_without_a_unit_is_left_to_the_rules_of_numbers(text):
    assert read_typed(slot_of(DIMENSIONS["pressure"]), text).unit == ""
