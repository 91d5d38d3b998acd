"""One rule for the characters of a text, at every boundary: forms, API, imported files, command line."""

import json

import pytest
from django import forms
from django.core.management import call_command
from django.core.management.base import CommandError
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from config.api.v1 import refuse_unprintable
from fleet.api.problems import Refusal
from fleet.characters import REFUSED, encodable, printable, refusal_of
from fleet.imports import IMPORTERS, parse_upload
from fleet.models import Site
from fleet.register_file import Settings
from tests.factories import make_person

BAD = ["\x00", "\x01", "\v", "\f", "\x1b", "\x7f", "\x85", "\ud800", "\ufffe", "\u202e", "\u2066"]
GOOD = ["a\tb", "one\r\ntwo", "\u200fעברית", "\u200bx", "می\u200cخواهم", "👩\u200d🔧", "'=1+1", "<b>&"]


@pytest.mark.parametrize("sign", BAD)
def test_what_cannot_be_printed_is_refused_by_its_name_and_place(sign):
    assert refusal_of(f"ab{sign}c").startswith(f"Character 3 is U+{ord(sign):04X} (")


@pytest.mark.parametrize("text", GOOD)
def test_what_scripts_need_is_accepted(text):
    assert refusal_of(text) == ""


@given(text=st.text(st.characters(), max_size=20))
def test_what_is_written_holds_nothing_that_a_file_cannot(text):
    assert not REFUSED.search(printable(text).translate({code: None for code in range(0x202A, 0x206A)}))
    assert encodable(text).encode("utf-8") or not text
    assert len(printable(text)) == len(text)


@pytest.mark.parametrize("sign", BAD)
@pytest.mark.parametrize("field", [forms.CharField, forms.EmailField, forms.SlugField])
def test_every_kind_of_text_field_of_a_form_refuses_it(field, sign):
    with pytest.raises(forms.ValidationError):
        field().clean(f"a{sign}b@example.org")


@pytest.mark.parametrize("sign", [sign for sign in BAD if sign != "\ud800"])  # no browser can send half a pair
def test_a_form_says_which_character_it_was_and_keeps_nothing(client, db, sign):
    client.force_login(make_person("planner"))
    sent = {"name": f"Ward{sign}hospital", "code": "ward", "time_zone": "UTC", "altitude_m": "10"}
    response = client.post(reverse("fleet:site_add"), sent)
    assert response.status_code == 200 and not Site.objects.filter(code="ward").exists()
    assert f"U+{ord(sign):04X}" in response.content.decode()


@pytest.mark.parametrize("sign", BAD)
@pytest.mark.parametrize("where", ["title", "deep", "key"])
def test_the_api_names_the_part_of_a_body_that_holds_it(sign, where):
    body = {"title": {"title": f"a{sign}"}, "deep": {"a": [{"b": f"{sign}"}]}, "key": {f"k{sign}": 1}}[where]
    with pytest.raises(Refusal) as refused:
        refuse_unprintable(json.loads(json.dumps(body)))
    assert refused.value.status == 422
    assert refused.value.errors[0][0] == {"title": "body.title", "deep": "body.a.0.b", "key": "body"}[where]


@pytest.mark.parametrize("argv", [["person", "add", "a\x0bb"], ["person", "add", "ab", "--first-name=\ud800"],
                                  ["token", "add", "x\x1b", "--owner=a", "--group=b"]])  # fmt: skip
def test_a_command_refuses_it(db, argv):
    with pytest.raises(CommandError, match="cannot be printed"):
        call_command(*argv)


@pytest.mark.parametrize("sign", [sign for sign in BAD if sign not in ("\x00", "\ud800")])
@pytest.mark.parametrize("kind", IMPORTERS)
def test_a_cell_of_any_file_that_holds_it_is_a_problem_that_names_it(db, kind, sign):
    kind = IMPORTERS[kind].kind
    for column in kind.header:
        text = f"{kind.sign},{column}\nM-1,a{sign}b\n" if column != kind.sign else f"{kind.sign}\na{sign}b\n"
        parsed = parse_upload(text.encode(), kind, Settings(encoding="utf-8", delimiter=",", counts_as=""))
        told = [problem for problem in parsed.problems if f"U+{ord(sign):04X}" in problem.message]
        assert told, (column, parsed.problems)
