"""A test on a machine that lacks something: it asks for nothing of that, and what is left decides as before."""

import re
from dataclasses import fields, is_dataclass, replace

import pytest

from inspections.bench import (
    TESTS,
    BenchError,
    ChoiceSpec,
    Decision,
    Dimension,
    NoChallenge,
    ResultSpec,
    TableSpec,
    Test,
    get_test,
    lacking,
)
from inspections.bench.equipped import equipment_of, on_machine, sheet_on
from inspections.bench.passages import EQUIPMENT
from inspections.bench.readings import Sheet
from inspections.bench.serialise import evaluation_to_dict
from inspections.bench.specs import observation
from tests.inspections.bench.making import context, evaluate, flow, sheet
from tests.inspections.bench.sound_sheets import CREDIT, SOUND

ALL = frozenset(EQUIPMENT)


def lackings(code):
    """Each thing that the test with this code asks for, alone, and all together."""
    asked = sorted(lacking(code, ALL))
    return [frozenset({one}) for one in asked] + ([frozenset(asked)] if len(asked) > 1 else [])


CASES = [(code, lacks) for code in TESTS for lacks in lackings(code)]


def is_about(given, test):
    """Whether the sheet chose something that the machine of `test` lacks: the gas that flowed, for example."""
    offered = {choice.key: {value for value, _ in choice.options} for choice in test.choices}
    return any(value not in offered.get(key, {value}) for key, value in given.choices.items())


SHEETS = [
    (name, lacks)
    for name, (given, _) in SOUND.items()
    for lacks in lackings(name.partition(",")[0])
    if not is_about(given, get_test(name.partition(",")[0], lacks))
]


def texts_of(thing):
    if isinstance(thing, str):
        yield thing
    elif isinstance(thing, tuple):
        for one in thing:
            yield from texts_of(one)
    elif is_dataclass(thing):
        for one in fields(thing):
            yield from texts_of(getattr(thing, one.name))


@pytest.mark.parametrize("code", TESTS)
def test_no_bracket_of_a_passage_is_ever_shown(code):
    for lacks in [frozenset(), *lackings(code)]:
        assert not [text for text in texts_of(get_test(code, lacks)) if "{" in text or "}" in text]


@pytest.mark.parametrize(("code", "lacks"), CASES)
def test_what_is_left_asks_for_nothing_that_is_lacking(code, lacks):
    test = get_test(code, lacks)
    assert not equipment_of(test) & lacks
    offered = {choice.key: {value for value, _ in choice.options} for choice in test.choices}
    assert all(choice.default in offered[choice.key] for choice in test.choices)
    wanted = [
        pair for spec in (*test.all_readings(), *test.tables, *test.choices) for pairs in spec.wanted for pair in pairs
    ]
    assert all(option in offered[choice] for choice, option in wanted)
    results = {spec.key for spec in test.results}
    assert all(set(reading.judges) <= results for reading in test.all_readings())
    assert {one.key for one in test.default_limits} <= results


@pytest.mark.parametrize(("name", "lacks"), SHEETS)
def test_a_sound_machine_passes_by_what_it_has(name, lacks):
    """The sheet is that of a machine with everything, without what the form no longer asks for."""
    code, (given, surroundings) = name.partition(",")[0], SOUND[name]
    test = get_test(code, lacks)
    found = evaluate(code, sheet_on(test, given), replace(surroundings or context(), lacks=lacks))
    assert found.missing == ()
    assert {one.key for one in found.results} <= {spec.key for spec in test.results}
    judged = [one.decision for one in found.results if one.decision is not None]
    assert judged and set(judged) <= set(CREDIT)


def test_a_reading_of_what_the_machine_lacks_is_refused():
    with pytest.raises(BenchError, match="volume_kept"):
        evaluate("two-bag", sheet({"volume_kept": flow(1, "yes/no")}), context(lacks=frozenset({"ventilator"})))


def test_the_two_bag_test_by_hand_is_complete_without_a_ventilator():
    yes = {key: flow(1, "yes/no") for key in ("flows_both_ways", "valves_move", "apl_releases")}
    given = sheet({"fresh_gas": flow(5), **yes})
    by_hand = evaluate("two-bag", given, context(lacks=frozenset({"ventilator"})))
    assert by_hand.missing == () and all(one.is_measured for one in by_hand.results)
    with_one = evaluate("two-bag", given)
    assert {one.key for one in with_one.results if not one.is_measured} == {"volume_kept", "rest_pressure"}


def test_on_a_machine_without_vaporizers_every_row_of_the_bulb_is_one_more_watch_of_the_same():
    rows = [{"watched": flow(15, "s")}, {"watched": flow(15, "s"), "opened": flow(4, "s")}]
    given = sheet({key: flow(1, "yes/no") for key in ("bulb_holds", "controls_closed")}, {"positions": tuple(rows)})
    bare = evaluate("negative-pressure-leak", given, context(lacks=frozenset({"vaporizer"})))
    (held,) = [one for one in bare.results if one.decision is not None]
    assert (held.key, held.decision, held.remark) == ("hold_off", Decision.FAIL, "Watch 2: open after 4 s.")
    assert not any("vaporizer" in remark for remark in bare.remarks)
    usual = evaluate("negative-pressure-leak", given, context(vaporizers=1))
    assert [one.decision for one in usual.results if one.decision is not None] == [Decision.PASS, Decision.FAIL]


def test_a_choice_with_one_option_left_is_settled_and_what_other_options_want_is_gone():
    test = get_test("cylinder-content", frozenset({"ventilator", "nitrous-oxide"}))
    assert [value for value, _ in next(one for one in test.choices if one.key == "drive").options] == ["not driven"]
    assert "driving_flow" not in {one.key for one in test.readings}
    assert "nitrous-oxide" not in dict(next(one for one in test.choices if one.key == "gas").options)


def test_a_choice_of_which_every_option_needs_something_cannot_be_declared():
    with pytest.raises(TypeError, match="every option"):
        ChoiceSpec("gas", "Gas", (("air", "air"),), "air", option_needs={"air": ("air",)})


def test_what_a_choice_needs_that_is_made_already_counts_as_there():
    lacks = frozenset({"nitrous-oxide", "ventilator"})
    assert lacking("cylinder-content", lacks, {"gas": "nitrous-oxide"}) == {"ventilator"}
    assert lacking("cylinder-content", lacks, {"gas": "oxygen"}) == lacks


def test_what_makes_no_difference_to_a_test_is_not_kept_with_its_step():
    assert lacking("two-bag", frozenset({"ventilator", "scavenging"})) == {"ventilator"}
    assert lacking("observation", ALL) == frozenset()


SPOKEN = {
    "vaporizer": "vaporizer",
    "ventilator": "ventilator|bellows",
    "scavenging": "scavenging",
    "pipeline": "pipeline",
}


@pytest.mark.parametrize(("code", "lacks"), [case for case in CASES if case[1] & SPOKEN.keys()])
def test_nothing_that_a_result_says_speaks_of_what_is_lacking(code, lacks):
    """Of an empty sheet, of the sound ones, and of those with every second reading left out."""
    test, words = get_test(code, lacks), "|".join(SPOKEN[one] for one in lacks & SPOKEN.keys())
    sound = [sheet_on(test, given) for name, (given, _) in SOUND.items() if name.partition(",")[0] == code]
    partly = [replace(one, values=dict(list(one.values.items())[::2])) for one in sound]
    for given in (Sheet(), *sound, *partly):
        found = evaluation_to_dict(evaluate(code, given, context(lacks=lacks)))
        for result in found["outcomes"]:
            for words_of_a_standard in ("limit", "source", "edition"):
                result.pop(words_of_a_standard, None)
        assert not re.search(words, str(found), re.IGNORECASE), found


def small_test():
    """A test whose choices, readings and table each show one way of being left out or kept."""
    told = NoChallenge("it is only told")
    choices = (
        ChoiceSpec("way", "Way{pipeline| from the wall}", (("wall", "wall"), ("bag", "bag"), ("old", "old")), "bag",
                   option_needs={"wall": ("pipeline",)}),
        ChoiceSpec("drive", "Drive", (("gas", "gas"), ("motor", "motor")), "gas", needs=("ventilator",)),
    )  # fmt: skip
    both = ((("way", "bag"), ("drive", "gas")), (("way", "wall"), ("drive", "motor")))
    readings = (
        observation("always", "Always", judges=("told",), wanted=((("drive", "gas"),),)),
        observation("never", "Never", judges=("told",), wanted=((("drive", "motor"),),)),
        observation("both", "Both", judges=("told",), wanted=both),
    )
    column = observation("kept", "Kept", judges=("told",))
    gone = observation("gone", "Gone", judges=("told",), needs=("ventilator",))
    return Test(
        code="small", family="f", title="t", purpose="p", cautions=(), readings=readings,
        tables=(TableSpec("rows", "Rows", (column, gone), 0, 1, sets=("kept", "gone")),), choices=choices, rated=(),
        results=(ResultSpec("told", "Told", Dimension.OBSERVATION, "yes/no", "c", told, unjudged="told only"),),
        default_limits=(), source="s", evaluate=lambda sheet, context: None,
    )  # fmt: skip


def test_of_a_choice_that_is_left_out_the_default_holds_for_what_is_wanted_with_it():
    bare = on_machine(small_test(), frozenset({"ventilator"}))
    wanted = {one.key: one.wanted for one in bare.readings}
    assert wanted == {"always": (), "both": ((("way", "bag"),),)}


def test_a_default_that_is_still_offered_stays_and_one_that_is_not_gives_way_to_the_first():
    (way, _) = on_machine(small_test(), frozenset({"pipeline"})).choices
    assert (way.label, way.default, [value for value, _ in way.options]) == ("Way", "bag", ["bag", "old"])
    first = replace(small_test().choices[0], default="wall")
    changed = replace(small_test(), choices=(first, small_test().choices[1]))
    assert on_machine(changed, frozenset({"pipeline"})).choices[0].default == "bag"


def test_with_all_there_every_option_wants_what_it_wants():
    whole, there = small_test(), on_machine(small_test(), frozenset())
    assert [one.wanted for one in there.readings] == [one.wanted for one in whole.readings]
    assert [one.default for one in there.choices] == ["bag", "gas"]


def test_the_columns_left_of_a_table_are_set_as_declared():
    (table,) = on_machine(small_test(), frozenset({"ventilator"})).tables
    assert ([one.key for one in table.columns], table.sets) == (["kept"], ("kept",))
    (whole,) = on_machine(small_test(), frozenset()).tables
    assert whole.sets == ("kept", "gone")
