import pytest
from pytest import approx

from inspections.bench import TESTS, BenchError, Decision, UnknownTest, choose_limit, from_si, get_test, to_si
from tests.inspections.bench.making import context, evaluate, flow, gauge, limit, pressure, sheet, shown


def flush_decision(value, rule):
    named = {"flush_flow": choose_limit(TESTS["oxygen-flush"].default_limits, "flush_flow", rule=rule)}
    evaluation = evaluate("oxygen-flush", sheet({"flow": flow(value)}), context(limits=named))
    return evaluation.result("flush_flow").decision


# Sources: apsf.org on the flush valve 35-75 L/min; national society rule, Kenya, at least 35; ISO 80601-2-13 25-75
@pytest.mark.parametrize(
    ("value", "us", "kenya", "iso"),
    [
        (34.9, "fail", "fail", "pass"),
        (35, "pass", "pass", "pass"),
        (75.1, "fail", "pass", "fail"),
        (24.9,) + ("fail",) * 3,
    ],
)
def test_flush_limits_differ_by_rule(value, us, kenya, iso):
    assert [flush_decision(value, rule) for rule in ("us-35-75", "ksa-35", "iso80601-25-75")] == [us, kenya, iso]


def test_flush_can_be_timed():
    """By hand: 5 L in 6 s is 50 L/min."""
    timed = sheet({"volume": flow(5, "L"), "time": flow(6, "s")}, method="timed")
    assert shown(evaluate("oxygen-flush", timed), "flush_flow") == approx(50)
    with pytest.raises(BenchError, match="0 s is not possible"):
        evaluate("oxygen-flush", sheet({"volume": flow(5, "L"), "time": flow(0, "s")}, method="timed"))
    assert evaluate("oxygen-flush", sheet(method="timed")).missing == ("Volume filled", "Time to fill")


# Source: FDA 1993 checkout step 9: more than 90 % after the flush
@pytest.mark.parametrize(("percent", "decision"), [(90.0, "fail"), (90.1, "pass")])
def test_the_analyser_must_show_more_than_90_percent(percent, decision):
    given_sheet = sheet({"air_reading": flow(21, "%"), "flush_reading": flow(percent, "%")})
    assert evaluate("oxygen-analyser", given_sheet).result("flush_reading").decision == decision


# Source: ISO 80601-2-55 (from memory): 2.5 % + 2.5 % of level: 17.975 to 24.025 at 21 %, 95 to 105 at 100 %
@pytest.mark.parametrize(
    ("air", "span", "decisions"),
    [(17.975, 95, ("pass", "pass")), (17.97, 94.99, ("fail", "fail")), (24.03, 100, ("fail", "pass"))],
)
def test_the_analyser_band_is_taken_at_the_reference(air, span, decisions):
    values = {
        "air_reading": flow(air, "%"), "flush_reading": flow(95, "%"), "span_reading": flow(span, "%"),
        "reference_fraction": flow(100, "%"),
    }  # fmt: skip
    evaluation = evaluate("oxygen-analyser", sheet(values))
    assert (evaluation.result("air_reading").decision, evaluation.result("span_error").decision) == decisions


@pytest.mark.parametrize(
    ("seen", "wanted", "decision"), [(1, "yes", "pass"), (0, "yes", "fail"), (1, "no", "fail"), (0, "no", "pass")]
)
def test_an_observation_passes_when_it_is_as_wanted(seen, wanted, decision):
    result = evaluate("observation", sheet({"seen": flow(seen, "yes/no")}, wanted=wanted)).result("seen")
    assert (result.decision, result.expanded_uncertainty_si) == (decision, 0)


def test_a_local_limit_lends_its_source_to_an_observation_but_not_its_sense():
    own = {"seen": limit(lower=1, key="seen", unit="yes/no")}
    unwanted = sheet({"seen": flow(0, "yes/no")}, wanted="no")
    assert evaluate("observation", unwanted, context(limits=own)).result("seen").decision == Decision.PASS


def test_the_limit_of_the_machine_wins_over_the_default():
    own = {"flush_flow": limit(lower=to_si(60, "L/min"), key="flush_flow", unit="L/min")}
    result = evaluate("oxygen-flush", sheet({"flow": flow(50)}), context(limits=own)).result("flush_flow")
    assert (result.decision, result.limit.basis) == (Decision.FAIL, "local")


def test_an_empty_sheet_never_raises():
    for code in TESTS:
        evaluation = evaluate(code, sheet())
        assert evaluation.results == ()
        assert evaluation.missing


def test_an_unknown_test_lists_those_there_are():
    with pytest.raises(UnknownTest) as unknown:
        get_test("steam")
    assert str(unknown.value) == f'There is no bench test "steam". Use one of: {", ".join(sorted(TESTS))}.'


@pytest.mark.parametrize(
    ("reading", "words"),
    [
        (pressure(620, "kPa", "G"), r"620 kPa is above the range of instrument G \(0 to 600 kPa\). Check the unit"),
        (pressure(-5, "psi", "G"), "below the range"),
        (pressure(-20, "psi"), "perfect vacuum"),
        (pressure(-1, "kPa", zero="absolute"), "below zero"),
        (flow(5), 'the unit "L/min" does not fit. Accepted: psi, kPa'),
        (pressure(5, "psi", "X"), "instrument X is not known here. Known: EXACT, G"),
    ],
)
def test_a_reading_that_cannot_be_says_what_is_accepted(reading, words):
    top = 600 / 6.894757293168361
    with pytest.raises(BenchError, match=words) as caught:
        evaluate("pipeline-supply", sheet({"pressure": reading}), context(gauge(top_psi=top)))
    assert caught.value.key == "pressure"


def test_an_instrument_for_something_else_is_refused():
    with pytest.raises(BenchError, match="G has no scale for flow"):
        evaluate("oxygen-flush", sheet({"flow": flow(50, instrument="G")}), context(gauge()))


@pytest.mark.parametrize(
    ("given_sheet", "words"),
    [
        (sheet({"height": pressure(1)}), 'no reading "height". It has: pressure'),
        (sheet({}, {"rows": ()}), 'no table "rows"'),
        (sheet(colour="red"), 'no choice "colour"'),
    ],
)
def test_keys_that_the_test_does_not_have_are_refused(given_sheet, words):
    with pytest.raises(BenchError, match=words):
        evaluate("pipeline-supply", given_sheet)
    with pytest.raises(BenchError, match="is not offered"):
        evaluate("observation", sheet(wanted="perhaps"))


def test_an_absolute_reading_is_judged_as_gauge():
    """By hand: 446.1 kPa absolute at 101.325 kPa ambient is 344.775 kPa gauge, 50.006 psi."""
    evaluation = evaluate("pipeline-supply", sheet({"pressure": pressure(446.1, "kPa", zero="absolute")}))
    assert shown(evaluation, "pressure") == approx(344.775)
    assert from_si(evaluation.result("pressure").value_si, "psi") == approx(50.006, abs=0.001)


def test_a_reading_without_an_instrument_is_remarked():
    evaluation = evaluate("pipeline-supply", sheet({"pressure": pressure(50)}), unnamed=True)
    assert any("No instrument is named for pipeline pressure, no flow" in remark for remark in evaluation.remarks)
