import json
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from pytest import approx

from inspections.bench import TESTS
from inspections.bench.decision_words import JUDGED_WORST_FIRST

EXAMPLE = Path(__file__).parent / "examples" / "pipeline_at_48_psi.json"


def run(*args):
    out = StringIO()
    call_command("bench_test", *args, stdout=out)
    return out.getvalue()


def evaluate_data(tmp_path, data):
    path = tmp_path / "readings.json"
    path.write_text(data if isinstance(data, str) else json.dumps(data), encoding="utf-8")
    return json.loads(run("evaluate", str(path)))


def test_every_test_is_listed():
    assert [line.split()[0] for line in run("list").splitlines()] == list(TESTS)


def test_48_psi_fails_the_rule_that_the_file_names():  # Source: ASA 2008 checkout, item 6: at least 50 psi
    evaluation = json.loads(run("evaluate", str(EXAMPLE), "--indent", "2"))
    result = evaluation["outcomes"][0]
    assert (result["value"], result["unit"], result["rule"], result["decision"]) == (
        approx(48),
        "psi",
        "asa08",
        "fail",
    )
    assert result["expanded_uncertainty"] == approx(0.2566, abs=5e-5)  # by hand: 2 x hypot(0.125, 0.1/sqrt(12))
    assert result["margin"] == approx(-2)
    assert result["edition"] == "2008"
    assert "ASA pre-anaesthesia checkout" in result["source"]
    assert result["probability"] < 1e-9


@pytest.mark.parametrize("code", TESTS)
def test_the_example_of_every_description_evaluates_as_it_is(code, tmp_path):
    evaluation = evaluate_data(tmp_path, run("describe", code, "--example"))
    assert evaluation["test"] == code
    assert all(result["convention"] for result in evaluation["outcomes"])


@pytest.mark.parametrize("code", TESTS)
def test_a_description_names_readings_limits_and_cautions(code):
    text, data = run("describe", code), json.loads(run("describe", code, "--json"))
    for spec in data["readings"]:
        assert f"{spec['key']} [" in text
    for limit in data["limits"]:
        assert limit["rule"] in text and limit["source"] in text
    for caution in data["cautions"]:
        assert caution in text


def test_missing_readings_end_with_their_own_status(tmp_path):
    path = tmp_path / "empty.json"
    path.write_text('{"test": "pipeline-supply"}')
    with pytest.raises(SystemExit) as caught:
        run("evaluate", str(path))
    assert caught.value.code == 3


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ("{", "is not JSON"),
        ([1], "one JSON object"),
        ({"test": "steam"}, "Use one of: .*breathing-system-leak"),
        ({"test": "observation", "reading": {}}, '"reading" is not known here. Known: test, context'),
        ({"test": "pipeline-supply", "rule": "fda1"}, 'has no rule "fda1". Its rules: aagbi12'),
        ({"test": "pipeline-supply", "rule": {"pressure": "fda1"}}, "The rules are: fda92"),
        ({"test": "pipeline-supply", "values": {"pressure": {"value": 3, "unit": "L"}}}, "pressure: .*Accepted: psi"),
    ],
)
def test_a_file_that_cannot_be_says_what_and_where(tmp_path, data, words):
    with pytest.raises(CommandError, match=words) as caught:
        evaluate_data(tmp_path, data)
    assert "readings.json" in str(caught.value)


def test_a_file_that_is_not_there_is_named(tmp_path):
    with pytest.raises(CommandError, match="nowhere.json cannot be read"):
        run("evaluate", str(tmp_path / "nowhere.json"))


def test_an_unknown_code_lists_the_codes():
    with pytest.raises(CommandError, match="supply-failure"):
        run("describe", "steam")


def test_an_evaluation_bears_the_cautions_and_says_that_no_limit_is_confirmed():
    evaluation = json.loads(run("evaluate", str(EXAMPLE)))
    assert any(
        "manufacturer's instructions, local codes and licensed practice" in one for one in evaluation["cautions"]
    )
    assert any("without a site" in one for one in evaluation["cautions"])
    judged = [
        one for one in evaluation["outcomes"] if one["decision"] in JUDGED_WORST_FIRST and one["unit"] != "yes/no"
    ]
    assert judged and all(one["decision_in_words"].endswith(", limit not confirmed") for one in judged)
