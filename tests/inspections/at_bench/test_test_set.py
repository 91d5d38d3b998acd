"""No instrument is taken or proposed for a value that it does not hold, whatever its scales and their units."""

from dataclasses import dataclass

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from fleet.catalogue.dimensions import DIMENSIONS
from fleet.models import InstrumentScale
from inspections.at_bench.instrument_choice import InstrumentChoice
from inspections.at_bench.proposed_instrument import proposed_instrument
from inspections.at_bench.reading_entry import Entry
from inspections.at_bench.slots import Slot
from inspections.at_bench.taken_instrument import instrument_of_meant, taken_instrument
from inspections.at_bench.test_set import best_fit, fits, named_in_place
from inspections.bench import to_si
from inspections.errors import ReadingRefused

AMBIENT = 94_000.0
PRESSURE, FLOW = DIMENSIONS["pressure"], DIMENSIONS["flow"]


@dataclass
class Scales:
    rows: list

    def all(self):
        return self.rows


@dataclass
class FakeInstrument:
    pk: int
    code: str
    scales: Scales


@st.composite
def scales(draw):
    dimension = draw(st.sampled_from([PRESSURE, PRESSURE, FLOW]))
    unit = draw(st.sampled_from(dimension.symbols))
    low = draw(st.sampled_from([0, 0, 1, -0.5] if dimension is PRESSURE else [0, 0, 1]))
    return InstrumentScale(
        dimension=dimension.code, unit=unit, low=low, high=low + draw(st.sampled_from([1, 10, 20, 100, 350])),
        resolution=draw(st.sampled_from([0.01, 0.1, 1])), of_reading_percent=draw(st.sampled_from([0, 0.5, 2])),
        absolute=draw(st.sampled_from([0, 0.1])),
    )  # fmt: skip


@st.composite
def choices(draw):
    found = []
    for pk in range(1, draw(st.integers(1, 6)) + 1):
        rows = draw(st.lists(scales(), max_size=3))
        refusal = draw(st.sampled_from(["", "", "", "calibration expired"]))
        instrument = FakeInstrument(pk, f"G-{pk}", Scales(rows))
        found.append(
            InstrumentChoice(instrument, frozenset(row.dimension for row in rows), refusal, draw(st.booleans()))
        )
    return found


def slot_of(dimension, *, needs=True):
    zero = "gauge" if dimension.has_zero else ""
    return Slot("place", 0, "", "Place", dimension.code, units=dimension.symbols, zero=zero, needs_instrument=needs)


def holds(choice, dimension, value_si):
    """Whether a scale in its own unit holds a value: written anew from the definition of a range.

    Ends that only the rounding of units tells apart are equal: 1e-9 of the span, of a flow of 1 mL/min as of 350 bar.
    """
    for row in choice.instrument.scales.all():
        low, high = to_si(row.low, row.unit), to_si(row.high, row.unit)
        rounding = 1e-9 * (high - low)
        if row.dimension == dimension.code and low - rounding <= value_si <= high + rounding:
            return True
    return False


@given(
    choices=choices(),
    dimension=st.sampled_from([PRESSURE, FLOW]),
    number=st.sampled_from(["0", "0.5", "5", "15", "20", "50", "350", "1000"]),
    unit=st.integers(0, 6),
    absolute=st.booleans(),
    proposed=st.integers(0, 6),
    is_corrected=st.booleans(),
)
def test_an_instrument_that_the_person_did_not_choose_holds_the_value(
    choices, dimension, number, unit, absolute, proposed, is_corrected
):
    slot = slot_of(dimension)
    symbol = dimension.symbols[unit % len(dimension.symbols)]
    zero = "absolute" if absolute and dimension is PRESSURE else slot.zero
    entry = Entry(slot, number, symbol, zero)
    sent = str(proposed) if proposed else ""
    assume(not any(str(one.pk) == sent and one.refusal for one in choices))
    taken = taken_instrument(entry, sent, sent, choices, is_corrected=is_corrected, ambient_pa_abs=AMBIENT)
    value = to_si(float(number), symbol) - (AMBIENT if zero == "absolute" else 0)
    mine = [one for one in choices if one.is_in_set and not one.refusal and holds(one, dimension, value)]
    if taken is None:
        assert mine == []
        return
    choice = next(one for one in choices if one.instrument is taken)
    assert not choice.refusal and holds(choice, dimension, value)
    assert choice.is_in_set or str(choice.pk) == sent
    if mine and not (is_corrected and str(choice.pk) == sent):
        assert choice in mine


@given(choices=choices(), values=st.lists(st.sampled_from([0.0, 500.0, 15e3, 350e3, 1e6]), min_size=1, max_size=3))
def test_what_is_proposed_holds_all_that_is_expected(choices, values):
    offered = [one for one in choices if "pressure" in one.dimensions]
    for latest in (None, *(one.pk for one in offered)):
        pk = proposed_instrument(offered, slot_of(PRESSURE), values, latest)
        if pk is not None:
            choice = next(one for one in offered if one.pk == pk)
            assert not choice.refusal and all(holds(choice, PRESSURE, value) for value in values)


@given(choices=choices(), value=st.sampled_from([0.0, 500.0, 15e3, 350e3]))
def test_of_several_that_fit_none_is_finer_than_the_one_taken(choices, value):
    best = best_fit(choices, "pressure", [value])
    fitting = [one for one in choices if fits(one, "pressure", [value])]
    assert (best is None) == (fitting == [])
    assert all(one.refusal or not holds(one, PRESSURE, value) for one in choices if one not in fitting)


def gauge(pk, high, unit, *, is_in_set=True, **accuracy):
    row = InstrumentScale(
        dimension="pressure", unit=unit, low=0, high=high, resolution=0.1, of_reading_percent=0, absolute=0
    )
    for name, number in accuracy.items():
        setattr(row, name, number)
    return InstrumentChoice(FakeInstrument(pk, f"G-{pk}", Scales([row])), frozenset({"pressure"}), "", is_in_set)


def test_a_low_gauge_is_never_taken_for_a_high_pressure_and_the_finer_one_is_for_a_low_one():
    low, high = gauge(1, 20, "kPa", absolute=0.02), gauge(2, 100, "psi", absolute=1)
    assert best_fit([low, high], "pressure", [350e3]) is high
    assert best_fit([low, high], "pressure", [15e3]) is low


def test_the_instrument_read_last_is_not_proposed_where_another_is_far_finer():
    """The gauge that just read a cylinder holds an airway's pressure too, and says nothing of it."""
    cylinder = gauge(1, 3000, "psi", absolute=15, is_in_set=False)
    manometer, near = (gauge(pk, 20, "kPa", absolute=error, is_in_set=False) for pk, error in ((2, 0.05), (3, 0.1)))
    slot = slot_of(PRESSURE)
    assert proposed_instrument([cylinder, manometer], slot, [1.4e3], latest=1) == 2
    assert proposed_instrument([cylinder, manometer], slot, [1e6], latest=2) == 1
    assert proposed_instrument([manometer, near], slot, [1.4e3], latest=3) == 3


def test_a_stated_accuracy_comes_before_none_and_of_equals_the_smaller_range():
    stated, none = gauge(1, 100, "kPa", absolute=5), gauge(2, 100, "kPa")
    assert best_fit([none, stated], "pressure", [5e4]) is stated
    wide, narrow = gauge(3, 200, "kPa", absolute=1), gauge(4, 100, "kPa", absolute=1)
    assert best_fit([wide, narrow], "pressure", [5e4]) is narrow


def test_a_choice_of_the_person_is_never_exchanged():
    low, high = gauge(1, 20, "kPa", absolute=0.02), gauge(2, 100, "psi", absolute=1)
    entry = Entry(slot_of(PRESSURE), "350", "kPa", "gauge")
    chosen = {"is_corrected": False, "ambient_pa_abs": AMBIENT}
    assert taken_instrument(entry, "1", "2", [low, high], **chosen) is low.instrument
    assert taken_instrument(entry, "", "2", [low, high], **chosen) is None
    with pytest.raises(ReadingRefused, match="not in use at the machine's site"):
        taken_instrument(entry, "9", "2", [low, high], **chosen)


@pytest.mark.parametrize(
    ("text", "is_code"),
    [("g-1", True), (" G-1 ", True), ("G-10", False), ("", False), ("12", False), ("5 kPa", False), ("45", False)],
)
def test_a_code_is_known_whatever_its_capitals_and_a_number_is_none(text, is_code):
    known = [gauge(1, 20, "kPa")]
    for pk, code in ((12, "12"), (13, "5 kPa")):
        known.append(InstrumentChoice(FakeInstrument(pk, code, Scales([])), frozenset(), ""))
    assert (named_in_place(known, slot_of(PRESSURE), text) is not None) == is_code


@given(choices=choices(), dimension=st.sampled_from([PRESSURE, FLOW]), value=st.floats(0.1, 400), data=st.data())
def test_what_was_meant_takes_an_instrument_of_the_set_that_holds_it_or_keeps_its_own(choices, dimension, value, data):
    entry = Entry(slot_of(dimension), f"{value:.4g}", data.draw(st.sampled_from(dimension.symbols)))
    taken = data.draw(st.sampled_from([choice.instrument for choice in choices]))
    found = instrument_of_meant(entry, taken, choices, ambient_pa_abs=AMBIENT)
    mine = {choice.pk: choice for choice in choices if choice.is_in_set}
    if taken.pk not in mine:
        assert found is taken
    elif found is not taken:
        assert not mine[found.pk].refusal and holds(mine[found.pk], dimension, to_si(float(entry.as_read), entry.unit))
    assert instrument_of_meant(entry, None, choices, ambient_pa_abs=AMBIENT) is None
