"""Chosen units change how results and curves are shown, and nothing else."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.catalogue.dimensions import find_unit
from fleet.place_format import choice_of, unit_choices, using
from fleet.place_format.place import PlaceFormat
from inspections.bench import TESTS, from_si
from inspections.bench.chosen_units import chosen_unit
from inspections.bench.examples import EXAMPLES
from inspections.bench.guard import evaluate
from inspections.bench.serialise import (
    context_from_dict,
    evaluation_from_dict,
    evaluation_to_dict,
    result_to_dict,
    sheet_from_dict,
)
from inspections.result_display import shown_curves, shown_results

CHOICES = [one for one in unit_choices() if not find_unit(one.symbols[0])[0].is_derived]
CHOSEN = st.fixed_dictionaries({}, optional={one.code: st.sampled_from(one.symbols) for one in CHOICES})
PREFERRED = CHOSEN.map(lambda units: PlaceFormat(units=tuple(sorted(units.items()))))


def has_points(curve):
    return any(series.points for series in curve.series)


def evaluated(code, units):
    example = EXAMPLES[code]
    context = context_from_dict(example.get("context"), instruments=example.get("instruments", ()))
    return evaluate(TESTS[code], sheet_from_dict(example), replace(context, units=units))


@settings(max_examples=60, deadline=None)
@given(code=st.sampled_from(sorted(EXAMPLES)), units=CHOSEN, place=PREFERRED)
def test_results_are_the_same_in_every_unit_and_shown_in_the_chosen_one_at_every_site(code, units, place):
    plain, chosen = evaluated(code, {}), evaluated(code, units)
    with using(place):
        shown = shown_results(chosen)
        curves = shown_curves(chosen)
    for before, after, one in zip(plain.results, chosen.results, shown, strict=True):
        said = {"unit": after.unit, "unit_chosen": bool(units), "why": after.why, "remark": after.remark}
        of_readings = before.limit and before.limit.rule == "returns-by-full"  # made of a reading, in its unit
        assert replace(before, **said, limit=after.limit if of_readings else before.limit) == after
        declared = TESTS[code].result_spec(after.key).unit
        if wanted := units.get(choice_of(declared)):
            assert one.result.unit == after.unit == wanted
        if after.limit and units:
            assert one.result.limit.unit == after.limit.unit
    for before, after in zip(plain.curves, chosen.curves, strict=True):
        for was, now in ((before.x_unit, after.x_unit), (before.y_unit, after.y_unit)):
            assert now == units.get(choice_of(was), was)
    assert not units or [one.curve for one in curves] == [one for one in chosen.curves if has_points(one)]


@settings(max_examples=30, deadline=None)
@given(code=st.sampled_from(sorted(EXAMPLES)), units=CHOSEN)
def test_a_record_holds_whether_units_were_chosen_and_one_without_holds_nothing_of_it(code, units):
    evaluation = evaluated(code, units)
    data = evaluation_to_dict(evaluation)
    assert evaluation_from_dict(data) == evaluation
    said = [*data["outcomes"], *data["curves"]]
    assert all(one.get("unit_chosen", one.get("units_chosen", False)) is bool(units) for one in said)
    if not units:
        assert not any("unit_chosen" in one or "units_chosen" in one for one in said)


@pytest.mark.parametrize(
    ("symbol", "units", "wanted"),
    [
        ("psi", {"pressure": "bar"}, "bar"), ("psi", {"pressure": "psi"}, "psi"), ("psi", {"flow": "mL/min"}, ""),
        ("cmH2O", {"pressure": "bar"}, ""), ("cmH2O", {"airway pressure": "kPa"}, "kPa"), ("psi", {}, ""),
        ("psi per L/min", {"pressure": "kPa"}, "kPa per L/min"), ("psi per L/min", {"pressure": "bar"}, ""),
        ("dB", {"pressure": "kPa"}, ""), ("none", {"pressure": "kPa"}, ""), ("psi", {"pressure": "stone"}, ""),
    ],
)  # fmt: skip
def test_a_unit_is_chosen_by_dimension_or_group_and_what_is_made_of_others_follows(symbol, units, wanted):
    assert chosen_unit(symbol, units) == wanted


def test_a_result_says_how_it_was_chosen_only_where_it_was():
    result = evaluated("supply-failure", {}).results[0]
    assert "unit_chosen" not in result_to_dict(result)
    shown = evaluated("supply-failure", {"pressure": "bar"}).results[0]
    assert result_to_dict(shown)["unit_chosen"] is True
    assert result_to_dict(shown)["value"] == from_si(result.value_si, "bar")
