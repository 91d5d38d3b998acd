"""A procedure file from anywhere is refused in a sentence that names the step, the field and what is accepted."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspections.at_bench.procedure_files import MOST_BYTES, read_procedure, read_procedures
from inspections.at_bench.procedure_shape import MOST_STEPS, OF_LIMIT, OF_PROCEDURE, OF_STEP
from inspections.errors import ProcedureError

STEP = {"code": '"one"', "title": '"One"', "test": '"supply-failure"'}
LIMIT = {
    "key": '"trip_pressure"', "rule": '"house"', "title": '"House"', "lower": "26", "unit": '"psi"',
    "source": '"Committee"', "basis": '"local"',
}  # fmt: skip
WRONG = (
    "true", "-1", "3.5", "nan", "inf", "1" * 400, '"x"', "[]", "[1]", '["x"]', "{}", "{ a = 1 }", "1979-05-27", '""',
)  # fmt: skip


def text_of(head=(), step=(), limit=None):
    lines = [f"{key} = {value}" for key, value in ({"code": '"p"', "title": '"P"'} | dict(head)).items()]
    lines += ["[[step]]", *(f"{key} = {value}" for key, value in (STEP | dict(step)).items())]
    if limit is not None:
        lines += ["[[step.limit]]", *(f"{key} = {value}" for key, value in (LIMIT | dict(limit)).items())]
    return "\n".join(lines)


def refusal_of(text):
    """The sentence with which a text is refused; empty where it is accepted."""
    try:
        read_procedure(text, name="odd.toml")
    except ProcedureError as error:
        return str(error)
    return ""


@pytest.mark.parametrize("key", sorted(set(OF_PROCEDURE) - {"step", "not_tested_here"}))
def test_a_wrong_value_in_the_head_is_refused_by_its_name(key):
    refused = [sentence for value in WRONG if (sentence := refusal_of(text_of(head={key: value})))]
    assert len(refused) >= 9 and all(key in one and "ccepted" in one for one in refused)


@pytest.mark.parametrize("key", sorted(set(OF_STEP) - {"use"}))
def test_a_wrong_value_in_a_step_is_refused_with_step_field_and_what_is_accepted(key):
    refused = [sentence for value in WRONG if (sentence := refusal_of(text_of(step={key: value})))]
    assert len(refused) >= 9
    said = ("ccepted", "missing", "Use one of")
    assert all("step 1" in one and any(words in one for words in said) for one in refused)


@pytest.mark.parametrize("key", sorted(OF_LIMIT))
def test_a_wrong_value_in_a_limit_is_refused_with_its_step(key):
    refused = [sentence for value in WRONG if (sentence := refusal_of(text_of(limit={key: value})))]
    assert len(refused) >= 8 and all("step 1 (one)" in one for one in refused)


@pytest.mark.parametrize(
    "text, says",
    [
        ("a = " + "[" * 50_000, "nested too deeply"),
        ("x = " + "1" * 5_000, "not TOML"),
        ("\x00", "not TOML"),
        ("step = 5\ncode = 'p'\ntitle = 'P'", "step = int 5 is not accepted. Accepted: at least one"),
        ("step = []\ncode = 'p'\ntitle = 'P'", "at least one and at most 200"),
        ("step = [1, 2]\ncode = 'p'\ntitle = 'P'", "is not accepted"),
        ("[[step]]\nuse = 5\n[x]\n", "unknown key x"),
        ("code = 'p'\ntitle = 'P'\n[[step]]\nuse = 5", "use = int 5 is not accepted"),
        ("code = 'p'\ntitle = 'P'\n[[step]]\nuse = 'no-such'", "not a shared step"),
        (text_of(head={"title": '"' + "t" * 121 + '"'}), "at most 120 characters"),
        (text_of(head={"title": '"a\\u202Eb"'}), "cannot be printed"),
        (text_of(step={"code": '"a/b"'}), "letters, digits, hyphens"),
        (text_of(step={"item": '"' + "i" * 4001 + '"'}), "at most 4,000 characters"),
        (text_of(limit={"lower": "1e308"}), "step 1 (one)"),
        (text_of(limit={"lower": "40", "upper": "30"}), "lower limit is above"),
    ],
    ids=lambda value: value[:24] if isinstance(value, str) else value,
)
def test_hostile_files_are_refused_in_a_sentence(text, says):
    assert says in refusal_of(text)


def test_too_many_steps_are_refused():
    one = '[[step]]\ncode = "s{}"\ntitle = "S"\ntest = "observation"\n'
    steps = "".join(one.format(number) for number in range(MOST_STEPS + 1))
    assert "at most 200 [[step]]" in refusal_of(f'code = "p"\ntitle = "P"\n{steps}')


def test_a_file_that_is_too_large_or_no_text_is_refused_before_it_is_parsed(tmp_path):
    file = tmp_path / "large.toml"
    file.write_bytes(b"#" * (MOST_BYTES + 1))
    with pytest.raises(ProcedureError, match=r"large.toml has 400,001 bytes; at most 400,000"):
        read_procedures(tmp_path)
    file.write_bytes(b"code = '\xff'")
    with pytest.raises(ProcedureError, match="large.toml is not text in UTF-8: byte 9"):
        read_procedures(tmp_path)


WORDS = st.text(max_size=8) | st.sampled_from(sorted(OF_STEP))
LEAVES = st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.dates(), WORDS)
ODD = st.recursive(LEAVES, lambda part: st.lists(part, max_size=3) | st.dictionaries(WORDS, part, max_size=3))


@settings(max_examples=150, deadline=None)
@given(
    head=st.dictionaries(st.sampled_from(sorted(OF_PROCEDURE)), ODD, max_size=4),
    step=st.dictionaries(st.sampled_from(sorted(OF_STEP)), ODD, max_size=5),
    limit=st.dictionaries(st.sampled_from(sorted(OF_LIMIT)), ODD, max_size=4),
)
def test_no_value_of_any_type_ends_in_a_fault(head, step, limit):
    table = {"code": "p", "title": "P", "step": [{"code": "one", "title": "One", "test": "supply-failure"} | step]}
    table["step"][0].setdefault("limit", [limit])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("inspections.at_bench.procedure_files.tomllib.loads", lambda text: table | head)
        sentence = refusal_of("")
    assert isinstance(sentence, str)
