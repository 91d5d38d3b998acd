"""Answers that are files have the type of their name, and a name that no header is broken by."""

import re

import pytest

from fleet.export.download import CONTENT_TYPES, csv_download, file_response
from tests.test_rooms import ROOT, modules


@pytest.mark.parametrize("ending", CONTENT_TYPES)
def test_a_file_has_the_type_of_its_name(ending):
    stored, shown = file_response(f"a.{ending}", b"x"), file_response(f"a.{ending}", b"x", is_shown=True)
    assert (stored.content, stored["Content-Type"]) == (b"x", CONTENT_TYPES[ending])
    assert stored["Content-Disposition"] == f'attachment; filename="a.{ending}"'
    assert shown["Content-Disposition"] == f'inline; filename="a.{ending}"'


@pytest.mark.parametrize(
    ("name", "sent"),
    [('a"b.csv', r'attachment; filename="a\"b.csv"'), ("Übung.csv", "attachment; filename*=utf-8''%C3%9Cbung.csv")],
)
def test_a_name_with_quotes_or_letters_beyond_ascii_is_sent_as_rfc_6266_says(name, sent):
    assert csv_download(name, ["Head"], [])["Content-Disposition"] == sent


def test_a_list_begins_with_the_mark_by_which_a_spreadsheet_knows_utf_8():
    answer = csv_download("a.csv", ["Head"], [["é"]])
    assert b"".join(answer.streaming_content).decode() == "\ufeffHead\r\né\r\n"


def test_no_other_module_names_a_file_in_a_header():
    found = [name for name in modules() if re.search("Content-Disposition", (ROOT / f"{name}.py").read_text())]
    assert found == ["fleet/export/download"]
