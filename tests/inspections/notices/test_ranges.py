"""Serial numbers and lots against what a notice lists, with every number of a range written out as the oracle."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.notices.answers import Match
from inspections.notices.ranges import RangeRefused, plain, read_listed, spelled, squeezed

PREFIXES = st.sampled_from(["", "A", "SN-", "B 7/", "2019-", "A00-", "xk"])
SUFFIXES = st.sampled_from(["", "B", "-r", "/X"])
LOOSE = st.text(alphabet="Aa0129 -/xkbSN", max_size=9)


@st.composite
def ranges(draw):
    """A range with all that it holds written out: padded to one width, or as plain numbers."""
    prefix, suffix = draw(PREFIXES), draw(SUFFIXES)
    low = draw(st.integers(0, 1100))
    high = low + draw(st.integers(0, 120))
    width = draw(st.sampled_from([0, 4, 6]))
    written = [f"{prefix}{number:0{width or 1}}{suffix}" for number in range(low, high + 1)]
    return f"{written[0]} to {written[-1]}", written, (prefix, low, high, suffix, width)


def match(listed, recorded):
    return read_listed(listed, "serial number").answer(recorded).match


@given(ranges(), st.data())
def test_every_number_of_a_range_is_concerned_however_its_letters_are_written(one, data):
    text, written, _ = one
    chosen = data.draw(st.sampled_from(written))
    if squeezed(spelled(chosen)) not in ("0", "000", "00"):
        assert match(text, data.draw(st.sampled_from([chosen, chosen.lower(), f" {chosen}  "]))) is Match.CONCERNED


@given(ranges(), st.integers(0, 3000))
def test_a_number_written_alike_outside_the_range_is_not_concerned(one, number):
    text, written, (prefix, low, high, suffix, width) = one
    recorded = f"{prefix}{number:0{width or 1}}{suffix}"
    if recorded not in written and squeezed(spelled(recorded)) not in ("0", "000", "00"):
        assert match(text, recorded) is Match.NOT_CONCERNED


@given(ranges(), LOOSE)
def test_nothing_that_may_be_one_of_the_range_is_called_not_concerned(one, recorded):
    """The oracle compares with every number of the range, without separators, zeros, and the letters before it."""
    text, written, _ = one
    held = {form(spelled(each)) for each in written for form in (plain, squeezed)}
    without_letters = {each.lstrip("abcdefghijklmnopqrstuvwxyz") for each in held}
    bare = {form(spelled(recorded)) for form in (plain, squeezed)}
    if bare & (held | without_letters) or not squeezed(spelled(recorded)):
        assert match(text, recorded) is not Match.NOT_CONCERNED


@given(ranges(), LOOSE)
def test_only_what_is_written_as_the_notice_writes_it_is_concerned(one, recorded):
    text, written, (*_, width) = one
    if match(text, recorded) is Match.CONCERNED:
        assert spelled(recorded) in {spelled(each) for each in written}


@given(st.lists(LOOSE.filter(lambda text: any(sign.isalnum() for sign in text)), min_size=1, max_size=6), LOOSE)
def test_a_longer_list_never_takes_anything_out(entries, recorded):
    order = (Match.NOT_CONCERNED, Match.UNDECIDED, Match.CONCERNED)
    short, long = match(entries[0], recorded), match("\n".join(entries), recorded)
    assert order.index(long) >= order.index(short)


@pytest.mark.parametrize(
    ("listed", "recorded", "expected"),
    [
        ("A1200 to A1299", "A1250", "concerned"),
        ("A1200 to A1299", "A1300", "not concerned"),
        ("SN-0099..SN-0101", "SN-0100", "concerned"),
        ("SN-99 to SN-101", "SN-100", "concerned"),
        ("SN-0099..SN-0101", "SN-100", "cannot be decided"),
        ("SN-0099..SN-0101", "0100", "cannot be decided"),
        ("SN-0099..SN-0101", "SN0100", "cannot be decided"),
        ("SN-0099..SN-0101", "SX-0100", "not concerned"),
        ("A1200 to A1299", "A1250B", "cannot be decided"),
        ("A1200B to A1299B", "A1250C", "not concerned"),
        ("A1200 to A1299", "", "cannot be decided"),
        ("A1200 to A1299", "unknown", "cannot be decided"),
        ("A1200 to A1299", "-", "cannot be decided"),
        ("A12*", "a1277", "concerned"),
        ("A12*", "1277", "cannot be decided"),
        ("A12*", "A13", "not concerned"),
        ("K7, K9\nM1 – M3", "m2", "concerned"),
        ("K7", "K07", "cannot be decided"),
        ("K7", "K70", "not concerned"),
        ("24-01", "24-01", "concerned"),
    ],
)
def test_examples(listed, recorded, expected):
    assert match(listed, recorded) == expected


@pytest.mark.parametrize(
    "text",
    [
        "A1200 to B1299",
        "A9 to A1",
        "from to to",
        "A1 to A2 to A3",
        "*",
        "...",
        "A to B",
        "\n".join(f"A{n}" for n in range(501)),
    ],
)
def test_what_cannot_be_read_is_refused_with_a_sentence(text):
    with pytest.raises(RangeRefused, match=r"Enter|more than"):
        read_listed(text, "lot")


def test_the_reason_says_what_is_missing_or_written_otherwise():
    listed = read_listed("SN-0099..SN-0101", "lot")
    assert listed.answer("").reason == "no lot is recorded"
    assert listed.answer(" 100").reason == "lot “100” is written otherwise than the notice writes it"
    assert "which is no lot" in listed.answer("n/a").reason
