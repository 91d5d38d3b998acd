import pytest

from inspections.models import FoundHow
from inspections.planning.failure_codes import CODES, FILE, hidden_pairs, read_codes


def test_there_are_twelve_to_fifteen_codes_each_with_a_meaning():
    assert 12 <= len(CODES) <= 15
    assert all(code.meaning.endswith(".") and code.title for code in CODES.values())
    assert len({code.title for code in CODES.values()}) == len(CODES)


def test_what_wears_is_hidden_where_an_inspection_found_it_and_overt_where_a_user_did():
    wear = CODES["wear"]
    assert [how for how in FoundHow.values if wear.is_hidden(how)] == ["inspection", "recall"]
    assert all(CODES["silent-failure"].is_hidden(how) for how in FoundHow.values)
    assert not any(CODES["use-error"].is_hidden(how) for how in FoundHow.values)


def test_the_hidden_pairs_are_all_that_count_as_hidden():
    pairs = hidden_pairs(tuple(FoundHow.values))
    assert ("drift", "inspection") in pairs and ("drift", "during use") not in pairs
    assert len(pairs) == sum(code.is_hidden(how) for code in CODES.values() for how in FoundHow.values)


def test_a_code_that_is_there_twice_or_counts_as_nothing_known_is_refused():
    text = FILE.read_text(encoding="utf-8")
    with pytest.raises(ValueError, match="there twice"):
        read_codes(text + text[text.index("[[code]]") :])
    with pytest.raises(ValueError, match="seldom"):
        read_codes(text.replace('hidden = "no"', 'hidden = "seldom"', 1))
