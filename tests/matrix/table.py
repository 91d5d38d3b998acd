"""The table of who may do what, computed by asking, and its place in DEVELOPERS.md."""

import logging
from collections.abc import Mapping
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from unittest import mock

from django.http import HttpResponseForbidden
from django.test import override_settings
from django_otp.plugins.otp_totp.models import TOTPDevice

from config.groups import GROUPS
from fleet.models import ApiToken
from tests.factories import NOON, make_person, make_token
from tests.matrix.addresses import all_addresses
from tests.matrix.asking import METHODS, Asker, is_let_in, within_one_transaction
from tests.matrix.scene import make_scene, person_of_every_group

DOCUMENT = Path(__file__).resolve().parents[2] / "DEVELOPERS.md"
START, END = "<!-- who may do what: start -->", "<!-- who may do what: end -->"
ASIDE = ("HEAD", "OPTIONS")  # asked, and checked by rules of their own instead of printed
USUAL = ("GET", "HEAD", "POST")
EVERY_GROUP = "every group"  # asks with the other methods for all groups; no address takes them, so it is not printed


def ask_everything() -> Mapping:
    """Return name of the asker -> (address, method) -> whether the answer is the page itself."""
    scene = make_scene()
    askers = {"nobody": (Asker(), METHODS), "no group": (Asker(make_person()), METHODS)}
    for group in GROUPS:
        person = scene.planner if group == "planner" else make_person(group)
        askers[group] = (Asker(person, group), USUAL)
    askers[EVERY_GROUP] = (Asker(person_of_every_group(), "planner"), set(METHODS) - set(USUAL))
    with _refused_plainly(), within_one_transaction():
        answers = {name: Answers(_ask_all(asker, scene, methods)) for name, (asker, methods) in askers.items()}
        return answers | ask_held_back(scene)


def ask_held_back(scene):
    """As `ask_everything`, for people and tokens with every right that must be refused nevertheless.

    Sessions request pages and tokens request the API, with the two methods that the table prints.
    """
    sessions, tokens = held_back_sessions(), held_back_tokens()
    answers = {}
    for name, asker in (sessions | tokens).items():
        with override_settings(SECOND_FACTOR_GROUPS=["technician"]):
            asked = _ask_all(asker, scene, ("GET", "POST"), lambda a, name=name: a.is_api == (name in tokens))
            answers[name] = Answers(asked)
    return answers


class Answers(dict):
    """Answers by asker; what was not asked counts as refused."""

    def __missing__(self, key):
        return False


def held_back_sessions():
    """Sessions that must set up a second factor first, or give its code."""
    with override_settings(SECOND_FACTOR_GROUPS=["technician"]):
        to_set_up, to_give = person_of_every_group(), person_of_every_group()
        TOTPDevice.objects.create(user=to_give, name="app", confirmed=True)
        return {"factor to set up": Asker(to_set_up), "factor to give": Asker(to_give)}


def held_back_tokens():
    """Tokens that are not confirmed yet, revoked, or past their last day; their owner is in every group."""
    owner = person_of_every_group()
    made = {state: make_token(owner, name=f"Token {state}") for state in ("not confirmed", "revoked", "ran out")}
    changes = {
        "not confirmed": {"confirmed_at": None},
        "revoked": {"revoked_at": NOON},
        "ran out": {"expires_on": NOON.date() - timedelta(days=1)},
    }
    for state, (token, _) in made.items():
        ApiToken.objects.filter(pk=token.pk).update(**changes[state])
    return {f"token {state}": Asker(secret=secret) for state, (_, secret) in made.items()}


@contextmanager
def _refused_plainly():
    """Skip the page and the log line of thousands of refusals."""
    logging.disable(logging.ERROR)
    try:
        with mock.patch("config.urls.handler403", lambda request, exception=None: HttpResponseForbidden()):
            yield
    finally:
        logging.disable(logging.NOTSET)


def _ask_all(asker, scene, methods, is_asked=lambda address: True):
    for address in filter(is_asked, all_addresses()):
        values = scene.values_of(address) | asker.own.get(address.route, {})
        is_shown = False
        for method in methods:
            if method == "HEAD" and is_shown:
                continue  # the question is whether it is answered where GET is not
            answer = asker.ask(address, method, values, posted=scene.posted.get(address.name, ()))
            is_shown = is_let_in(answer)
            yield (address, method), is_shown


def table_text(answers) -> str:
    names = [name for name in answers if name != EVERY_GROUP]
    head = ["Address", *names]
    rows = [head, ["---"] * len(head)]
    for address in all_addresses():
        cells = [_cell(answers[name], address) for name in names]
        rows.append([f"`/{address.route}`", *cells])
    return "\n".join("| " + " | ".join(row) + " |" for row in rows)


def _cell(answers, address):
    return " ".join(method for method in METHODS if method not in ASIDE and answers[address, method]) or "–"


def printed() -> str:
    """The table as DEVELOPERS.md holds it."""
    text = DOCUMENT.read_text(encoding="utf-8")
    return text[text.index(START) + len(START) : text.index(END)].strip()


def write(text) -> None:
    whole = DOCUMENT.read_text(encoding="utf-8")
    head, tail = whole[: whole.index(START) + len(START)], whole[whole.index(END) :]
    DOCUMENT.write_text(f"{head}\n{text}\n{tail}", encoding="utf-8")
