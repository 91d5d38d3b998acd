"""Hostile text in every text column: on no page, file or answer of any role is it executed, and none fails."""

import re
from collections import Counter

import pytest
from django.core.cache import cache
from django.db import connection
from django.test import Client

from config.controls import mark_of
from config.groups import GROUPS
from tests.factories import make_person
from tests.hostile.filling import OWN_WORDS, WITHOUT_WORDS, fill, filled_columns, text_columns
from tests.hostile.looking import look_at_file, look_at_page
from tests.hostile.payloads import FORMULA, LONG, MARKUP, PAYLOADS
from tests.hostile.scene import addresses, hand_over, make_hostile_scene
from tests.matrix.asking import Asker, within_one_transaction
from tests.matrix.scene import person_of_every_group

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
LOOKED_AT = {XLSX, "text/html", "text/csv", "application/pdf", "application/json"}
FILE = re.compile(
    r"\.(csv|xlsx|pdf|json|toml|zip|ics|js|txt|svg|jpg)$|/photographs/[0-9]+/|/download/$|^/(device/contact|health/live)/$"
)


class Walk:
    """Requests every address: counts the answers of each kind, and collects faults."""

    def __init__(self, person, group):
        self.mark, self.headers = mark_of(person), Asker(person, group).headers
        self.client, self.program = Client(), Client()
        self.client.force_login(person)
        self.answers, self.shown, self.wrong = Counter(), Counter(), []

    @within_one_transaction()
    def everywhere(self, scene, wanted):
        for address, path in addresses(scene):
            if not wanted(address, path):
                continue
            try:
                self._look(address, path)
            except Exception as error:  # every address is checked; the test fails with all faults
                self.wrong.append(f"{path}: {type(error).__name__}: {error}"[:600])
        return self

    def _look(self, address, path):
        cache.clear()  # requests of a token are counted there
        response = self.program.get(path, headers=self.headers) if address.is_api else self.client.get(path)
        content = b"".join(response.streaming_content) if response.streaming else response.content
        kind = response["Content-Type"].partition(";")[0] if response.status_code == 200 else response.status_code
        assert kind not in LOOKED_AT or (kind == "text/html") == is_page(address, path), kind
        if kind == "text/html":
            shows = look_at_page(content.decode(), self.mark)
        else:
            shows = look_at_file(content, f"{path} {response.get('Content-Disposition', '')}")
        self.answers[kind] += 1
        self.shown[kind] += shows


def is_page(address, path):
    """Whether the address is answered with a page; each walk checks it."""
    return not (address.is_api or "export=" in path or FILE.search(path))


def is_file(address, path):
    return not is_page(address, path)


def is_either(address, path):
    return True


def asked_with(payload):
    """What somebody of every group asks for: a formula acts in a file alone, and long papers are set once."""
    if payload is LONG and connection.vendor == "sqlite":
        return is_page
    return is_file if payload is FORMULA else is_either


def on_databases(payload):
    """A payload as a parameter: the longest values go to both databases, text of another meaning is text to both."""
    marks = () if payload.name == "long" else pytest.mark.same_on_both
    return pytest.param(payload, id=payload.name, marks=marks)


@pytest.mark.parametrize("payload", [on_databases(payload) for payload in PAYLOADS])
def test_no_page_and_no_file_of_any_role_lets_hostile_text_act_or_breaks_on_it(db, payload):
    """Somebody of every group asks for all; each group on its own for the pages with markup.

    What a page holds depends on the group; a file holds less for some, and never more.
    """
    scene = make_hostile_scene()
    written = fill(payload)
    assert sorted(name for name, rows in written.items() if not rows and name not in WITHOUT_WORDS) == []
    everybody = person_of_every_group()
    hand_over(everybody)
    wanted = asked_with(payload)
    whole = Walk(everybody, "planner").everywhere(scene, wanted)
    print(f"{payload.name}: {sum(written.values())} values in {len(written)} columns; {dict(whole.answers)}")
    assert whole.wrong == []
    assert wanted is is_file or whole.shown["text/html"] > 70
    if wanted is not is_page:
        assert whole.shown["text/csv"] > 7 and whole.shown["application/pdf"] > 4
        assert min(whole.shown[kind] for kind in (XLSX, "application/json")) > 3
    for group in GROUPS if payload is MARKUP else ():
        person = scene.planner if group == "planner" else make_person(group)
        alone = Walk(person, group).everywhere(scene, is_page)
        assert alone.wrong == [] and alone.answers["text/html"] > 70, group


def test_columns_left_out_of_the_filling_exist_and_are_not_filled():
    names = {f"{model._meta.label}.{field.name}" for model, field in text_columns()}
    filled = {f"{model._meta.label}.{field.name}" for model, field in filled_columns()}
    assert OWN_WORDS.keys() <= names and not OWN_WORDS.keys() & filled
    assert WITHOUT_WORDS.keys() <= filled
