"""Files are accepted by what they hold; hostile ones are refused with a sentence and nothing of them is kept."""

import pytest

from fleet.confined import Limits
from fleet.confined.limits import MIB, Turns
from inspections.attachments import FileRefused, FilesBusy, accept_file
from inspections.attachments.accepting import LONGEST_NAME, plain_name
from tests.inspections.attachments.hostile_files import ACCEPTED, REFUSED, pdf

LARGEST = 2_000_000


@pytest.mark.parametrize("case", REFUSED)
def test_a_hostile_file_is_refused_with_a_sentence_that_says_what_is_accepted(case):
    name, make, words = REFUSED[case]
    with pytest.raises(FileRefused) as refused:
        accept_file(make(), name=name, largest=LARGEST)
    said = str(refused.value)
    assert words in said and name in said
    assert "Accepted" in said and said.endswith("Nothing was saved.")


@pytest.mark.parametrize("case", ACCEPTED)
def test_a_file_is_what_it_holds_whatever_it_is_called(case):
    name, make, kind = ACCEPTED[case]
    accepted = accept_file(make(), name=name, largest=LARGEST)
    assert (accepted.kind, accepted.name) == (kind, name)
    assert (accepted.digest == accepted.received_digest) == (kind != "jpeg")


def test_a_photograph_is_stored_clean():
    _, make, _ = ACCEPTED["picture"]
    accepted = accept_file(make(), name="a.png", largest=LARGEST)
    assert accepted.content.startswith(b"\xff\xd8\xff") and accepted.content != make()


def test_a_file_that_is_too_large_is_not_read():
    class Large:
        name, size = "large.pdf", LARGEST + 1

        def read(self):
            raise AssertionError("it was read")

    with pytest.raises(FileRefused, match=r"“large.pdf” has 2.0 MB, which is too much. Accepted.* at most 2 MB"):
        accept_file(Large(), largest=LARGEST)


@pytest.mark.parametrize("sent, kept", [
    ("C:\\Users\\x\\report.pdf", "report.pdf"), ("../../etc/passwd", "passwd"), ("a\x00b\n.pdf", "a b .pdf"),
    ("..", ""), ("", ""),
])  # fmt: skip
def test_the_name_is_its_last_part_in_printable_signs(sent, kept):
    assert plain_name(sent) == kept


def test_a_very_long_name_is_cut_and_keeps_its_ending():
    name = plain_name("x" * 5000 + ".pdf")
    assert len(name) == LONGEST_NAME and name.endswith(".pdf")


def test_a_file_that_takes_too_much_is_ended():
    little = Limits(1, 20.0, 1 * MIB, MIB, Turns(waiting=1, patience_s=1.0))
    with pytest.raises(FileRefused, match="took more than .*MB of memory"):
        accept_file(b"words\n" * 4_000_000, name="a.txt", largest=30_000_000, limits=little)


def test_somebody_who_waits_too_long_is_told_to_send_it_again():
    turns = Turns(waiting=0, patience_s=0.1)
    with turns.taken(), pytest.raises(FilesBusy, match="again shortly"):
        accept_file(pdf(), name="a.pdf", largest=LARGEST, limits=Limits(1, 20.0, 64 * MIB, MIB, turns))
