"""The table of who may do what, computed by asking, and its place in DEVELOPERS.md."""

import logging
from collections.abc import Mapping
from contextlib import contextmanager
from pathlib import Path
from unittest import mock

from django.http import HttpResponseForbidden

from config.groups import GROUPS
from tests.factories import make_person
from tests.matrix.addresses import all_addresses
from tests.matrix.asking import METHODS, Asker, is_let_in
from tests.matrix.scene import make_scene

DOCUMENT = Path(__file__).resolve().parents[2] / "DEVELOPERS.md"
START, END = "<!-- who may do what: start -->", "<!-- who may do what: end -->"
ASIDE = ("HEAD", "OPTIONS")  # asked, and held to rules of their own instead of being printed


def ask_everything() -> Mapping:
    """Return name of the asker -> (address, method) -> whether the answer is the page itself."""
    scene = make_scene()
    askers = {"nobody": Asker(), "no group": Asker(make_person())}
    for group in GROUPS:
        person = scene.planner if group == "planner" else make_person(group)
        askers[group] = Asker(person, group)
    with _refused_plainly():
        return {name: dict(_ask_all(asker, scene)) for name, asker in askers.items()}


@contextmanager
def _refused_plainly():
    """Thousands of refusals need neither their page nor their line in the log."""
    logging.disable(logging.ERROR)
    try:
        with mock.patch("config.urls.handler403", lambda request, exception=None: HttpResponseForbidden()):
            yield
    finally:
        logging.disable(logging.NOTSET)


def _ask_all(asker, scene):
    for address in all_addresses():
        values = scene.values_of(address)
        for method in METHODS:
            yield (
                (address, method),
                is_let_in(asker.ask(address, method, values, posted=scene.posted.get(address.name, ()))),
            )


def table_text(answers) -> str:
    head = ["Address", *answers]
    rows = [head, ["---"] * len(head)]
    for address in all_addresses():
        cells = [_cell(answers[name], address) for name in answers]
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
