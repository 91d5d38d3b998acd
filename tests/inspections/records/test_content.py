import json
from hashlib import sha256

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.at_bench.evaluation import Evaluator
from inspections.bench.serialise import evaluation_from_dict, evaluation_to_dict
from inspections.records.content import canonical_json, digest_of
from inspections.records.signed_record import ShownRecord, reading_text

JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=10,
)


@given(JSON)
def test_one_content_has_one_text_that_reads_back(content):
    assert json.loads(canonical_json(content)) == content
    assert canonical_json(json.loads(canonical_json(content))) == canonical_json(content)


@given(st.dictionaries(st.text(), st.integers(), max_size=5))
def test_the_order_of_keys_does_not_change_the_text(content):
    assert canonical_json(dict(reversed(content.items()))) == canonical_json(content)


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_what_is_no_number_is_refused(value):
    with pytest.raises(ValueError, match="JSON compliant"):
        canonical_json({"value": value})


def test_the_digest_is_sha_256():
    # FIPS 180-4 example: SHA-256 of "abc"
    assert digest_of("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert digest_of("é") == sha256("é".encode()).hexdigest()


def test_the_evaluation_reads_back_from_the_record_as_it_was(scene):
    scene.complete()
    evaluation = Evaluator(scene.inspection).evaluate(scene.step()).evaluation
    content = json.loads(canonical_json(evaluation_to_dict(evaluation)))
    assert evaluation_from_dict(content) == evaluation


def test_the_record_shows_a_table_in_the_order_of_its_columns_and_rows(scene):
    scene.complete()
    step = ShownRecord(scene.sign().record).measured[0]
    table, rising = step.tables
    assert table.columns == ["Oxygen pressure", "Flow of the other gas"]
    assert table.rows[0] == (1, ["45 psi gauge", "4.0 L/min"])
    assert (len(table.rows), len(rising.rows)) == (5, 4)


def test_the_record_says_the_choices_that_were_in_effect_in_words(scene):
    scene.complete()
    step = ShownRecord(scene.sign().record).measured[0]
    assert step.choices == [("Kind of device", "not known")]


def test_the_record_counts_its_decisions(scene):
    scene.complete(alarm="no")
    assert ShownRecord(scene.sign().record).counts == [("fail", 1), ("not tested", 1), ("pass, limit not confirmed", 1)]


@pytest.mark.parametrize(
    ("unit", "zero", "text"),
    [("psi", "gauge", "4 psi gauge"), ("kPa", "absolute", "4 kPa absolute"), ("L/min", "", "4 L/min"), ("", "", "4")],
)
def test_a_reading_is_shown_as_read(unit, zero, text):
    assert reading_text({"as_read": "4", "unit": unit, "zero": zero}) == text
