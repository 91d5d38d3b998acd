"""Whatever `bench_test evaluate` is given, it ends with results or with a sentence and a documented status."""

import json
import math
import os
import subprocess
import sys
from io import BytesIO, StringIO, TextIOWrapper
from pathlib import Path
from random import Random

import pytest
from django.core.management import CommandError, call_command

from inspections.management.commands.bench_test import INCOMPLETE, MOST_BYTES
from tests.inspections.bench.mutations import TEXTS, mutated

ROUNDS = int(os.environ.get("BENCH_INPUT_ROUNDS", "1500"))


def result_of(path):
    """Run the command and return what it printed, or the sentence of its refusal. Anything else is raised."""
    out = StringIO()
    try:
        call_command("bench_test", "evaluate", str(path), stdout=out)
    except CommandError as error:
        assert str(error).strip() and error.returncode == 1
        return str(error)
    except SystemExit as error:
        assert error.code == INCOMPLETE
    return json.loads(out.getvalue(), parse_constant=pytest.fail)


def test_an_example_with_any_node_changed_ends_in_results_or_a_sentence(tmp_path):
    path, random = tmp_path / "readings.json", Random(17925)
    refused = 0
    for number in range(ROUNDS):
        data = mutated(random)
        path.write_text(json.dumps(data), encoding="utf-8")
        try:
            found = result_of(path)
        except Exception as error:
            error.add_note(f"input {number}: {json.dumps(data)[:3000]}")
            raise
        if isinstance(found, str):
            refused += 1
        else:
            assert all(one["value"] is None or math.isfinite(one["value"]) for one in found["outcomes"])
    assert 0 < refused < ROUNDS


@pytest.mark.parametrize("text", TEXTS, ids=range(len(TEXTS)))
def test_what_is_no_plain_json_is_refused_in_words(text, tmp_path):
    path = tmp_path / "readings.json"
    path.write_text(text, encoding="utf-8")
    assert isinstance(result_of(path), str)


@pytest.mark.parametrize("content", [b"\xff\xfe\x00", bytes(range(256)), b"\x89PNG\r\n\x1a\n", b"\xc3"])
def test_what_is_no_text_is_refused_in_words(content, tmp_path):
    path = tmp_path / "readings.json"
    path.write_bytes(content)
    assert "not UTF-8 text" in result_of(path)


@pytest.mark.parametrize("name", ["/dev/zero", "/", "nowhere.json", "nul\0.json", ""])
def test_a_file_that_cannot_be_read_or_never_ends_is_refused(name):
    assert "read" in result_of(name)


def test_standard_input_is_read_no_further_than_its_bound(monkeypatch):
    stream = BytesIO(b" " * (MOST_BYTES + 500_000))
    monkeypatch.setattr("sys.stdin", TextIOWrapper(stream))
    assert f"longer than {MOST_BYTES:,} bytes" in result_of("-")
    assert stream.tell() <= MOST_BYTES + 1


@pytest.mark.parametrize("indent", ["999999999999"])
def test_an_indent_that_is_no_layout_is_wrong_use(indent):
    root = Path(__file__).parents[3]
    command = [sys.executable, "manage.py", "bench_test", "evaluate", "-", f"--indent={indent}"]
    done = subprocess.run(command, cwd=root, capture_output=True, text=True, stdin=subprocess.DEVNULL)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"ambient_kpa_abs": 1013}, "1013 kPa is not plausible. Accepted: 45 to 110 kPa"),
        ({"ambient_kpa_abs": 14.7}, "14.7 kPa is not plausible"),
        ({"temperature_c": 293}, "293 °C is not plausible. Accepted: 5 to 45 °C"),
        ({"built_year": 20_000}, "a whole year, 1850 to 2200"),
    ],
)
def test_conditions_typed_in_another_unit_are_refused(change, words, tmp_path):
    path = tmp_path / "readings.json"
    path.write_text(json.dumps({"test": "pipeline-supply", "context": change}))
    assert words in result_of(path)


@pytest.mark.parametrize(
    ("value", "words"), [(999_999_999, "is not plausible. Accepted: "), (5e-324, "is too small to be read")]
)
def test_a_reading_that_is_not_plausible_is_refused_at_its_place(value, words, tmp_path):
    path = tmp_path / "readings.json"
    reading = {"value": value, "unit": "psi"}
    path.write_text(json.dumps({"test": "pipeline-supply", "values": {"pressure": reading}}))
    sentence = result_of(path)
    assert words in sentence and "psi" in sentence and ": pressure: " in sentence
