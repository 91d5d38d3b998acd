"""Laws put together give each branch the flow that its own law gives it."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from fleet.circuit.gases import Mix
from fleet.circuit.laws import (
    Circulating,
    Closed,
    Drawing,
    Following,
    Metered,
    Nozzle,
    OneWay,
    Opening,
    Rationed,
    Regulating,
    Resistance,
    Steered,
)
from fleet.circuit.laws.numbers import Gas
from fleet.circuit.stacking import LawBook
from tests.fleet.circuit.oracle import laws as old
from tests.fleet.circuit.oracle.junctions import translated
from tests.fleet.circuit.small_laws import Root

PIPE, WIDE = Resistance(1e6, 1e12), Resistance(3e5, 2e11)
HOLE, SLIT = Nozzle(1e-6), Nozzle(3e-8)
SEAT = Regulating(4e5, 6e4, 1e-5)
OPENS, LATE = Opening(2e5, 2.5e5), Opening(3e5, 3.1e5)
PAIRS = {
    "closed": (Closed(), Closed(2e-14)),
    "resistance": (PIPE, WIDE),
    "nozzle": (HOLE, SLIT),
    "one way": (OneWay(PIPE, 500.0, 1e-14, 50.0), OneWay(WIDE, 20.0)),
    "drawing": (Drawing(8e-4, 5e4), Drawing(1e-4, 1e3)),
    "circulating": (Circulating(8e-5, 5e3, PIPE), Circulating(2e-5, 2e3, WIDE)),
    "steered": (Steered(HOLE, OPENS), Steered(SLIT, LATE, 1e-13)),
    "regulating": (SEAT, Regulating(2e5, 3e4, 1e-6)),
    "following": (Following(SEAT, 2e5, 1.5, 1e5, 4e5), Following(SEAT, 1.5e5, 0.7, 8e4, 3e5)),
    "metered": (Metered(HOLE, 1e-4), Metered(SLIT, 2e-5)),
    "metered, with a pilot": (Metered(HOLE, 1e-4, OPENS), Metered(SLIT, 2e-5, LATE)),
    "rationed": (Rationed(PIPE, PIPE, 3.0), Rationed(WIDE, PIPE, 1.0)),
}
PILOTS = {"steered": 1, "following": 1, "metered, with a pilot": 1, "rationed": 2}
GASES = [Mix.supply(gas) for gas in ("oxygen", "nitrous-oxide", "air")]
pressures = st.floats(1e4, 1e6)
ends = st.one_of(
    st.tuples(pressures, pressures),
    pressures.flatmap(lambda p: st.tuples(st.just(p), st.floats(-20, 20).map(lambda drop: p - drop))),
)
points = st.tuples(ends, st.sampled_from(GASES), st.sampled_from(GASES), st.tuples(pressures, pressures))


def arrays(mixes):
    return Gas(np.array([mix.molar_mass for mix in mixes]), np.array([mix.heat_ratio for mix in mixes]))


@pytest.mark.parametrize("name", PAIRS)
@given(drawn=st.lists(st.tuples(points, st.booleans()), min_size=1, max_size=6))
def test_laws_together_give_what_each_gives_alone_and_gave_before(name, drawn):
    book, count = LawBook(), PILOTS.get(name, 0)
    numbers = np.array([book.number(PAIRS[name][is_second]) for _, is_second in drawn])
    forms, rows = book.places(numbers)
    a, b = np.array([p[0] for (p, *_), _ in drawn]), np.array([p[1] for (p, *_), _ in drawn])
    pilots = tuple(np.array([p[3][k] for p, _ in drawn]) for k in range(count))
    flow = book.stacked(int(forms[0]), rows).flow(
        a, b, arrays([p[1] for p, _ in drawn]), arrays([p[2] for p, _ in drawn]), pilots
    )
    assert set(forms) == {forms[0]}
    for k, ((at, mix_a, mix_b, steering), is_second) in enumerate(drawn):
        law = PAIRS[name][is_second]
        found = [column[k] for column in (*flow[:3], *flow.by_pilots)]
        for one in (law, translated(law)):
            expected = one.flow(*at, mix_a, mix_b, steering[:count])
            assert found == approx([*expected[:3], *expected[3]], rel=1e-12, abs=1e-25)


def test_the_oracle_has_laws_of_its_own():
    assert all(type(translated(law)) is getattr(old, type(law).__name__) for law, _ in PAIRS.values())


def test_a_law_that_arrays_do_not_suit_stands_alone():
    book = LawBook()
    forms, _ = book.places(
        np.array([book.number(Root(1.0)), book.number(HOLE), book.number(Steered(Root(1.0), OPENS))])
    )
    assert book.stands_alone(forms).tolist() == [True, False, True]


def test_a_law_has_one_number_and_laws_of_one_form_are_rows_of_it():
    book = LawBook()
    numbers = [book.number(law) for law in (HOLE, PIPE, SLIT, HOLE)]
    forms, rows = book.places(np.array(numbers))
    assert numbers == [0, 1, 2, 0] and forms[0] == forms[2] != forms[1] and rows.tolist() == [0, 0, 1, 0]
    assert book.at([2, 0]) == [SLIT, HOLE]
