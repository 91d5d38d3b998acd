"""What people read uses the words of the glossary: one name for one thing.

The roots name the parts of the tree that are held to it. Names of the catalogue, such as "Minimum oxygen ratio
protection", are proper names: they are taken out of a text before it is examined.
"""

import ast
import re
from collections.abc import Iterator
from datetime import UTC, date, datetime
from html.parser import HTMLParser
from importlib import import_module
from inspect import isclass, signature
from pathlib import Path
from pkgutil import walk_packages

import pytest
from django.apps import apps
from django.contrib.auth.models import AbstractUser
from django.forms import BaseForm
from django_tables2 import Table

from fleet.catalogue import COMPONENT_KINDS, FEATURES
from fleet.register_file import KINDS
from inspections.bench import TESTS

ROOT = Path(__file__).resolve().parents[1]
TEMPLATE_ROOTS = ("config/templates", "fleet/templates", "inspections/templates")
SCRIPT_ROOTS = ("config/static/bobbin",)
PYTHON_ROOTS = ("config", "fleet", "inspections")
APPS = ("fleet", "inspections")

# What is not read by people, or is another subject's.
LEFT_OUT = {
    "fleet/migrations/": "the words of earlier days",
    "inspections/migrations/": "the words of earlier days",
    "fleet/register_file/synonyms.py": "headers of other people's files",
    "fleet/register_file/columns.py": "headers of other people's files; file_texts has what is shown",
    "fleet/register_file/kinds.py": "headers of other people's files; file_texts has what is shown",
    "fleet/circuit/file_table.py": "names of classes",
    "fleet/circuit/file_text.py": "keys of the circuit file",
    "inspections/deciding/grounds/comparing.py": "words of proposals stored earlier",
    "inspections/models/": "model_texts has what is shown",
    "inspections/views/findings.py": "headings of exports that programs read",
    "inspections/views/work.py": "headings of exports that programs read",
    "fleet/journal/": "names of tables and digests",
    "config/demo/": "invented data of the demonstration",
}
BANNED = {
    r"makers?": "manufacturer",
    r"duty|duties": "status",
    r"out of (?:use|service)": "withdrawn from use",
    r"long work": "background jobs",
    r"told by": "alarmed by",
    r"joints?|joined|joins?": "connection, connected",
    r"(?:take|takes|taken|taking) (?:it |them )?apart": "disconnect",
    r"(?<!spare )parts?(?! (?:of|numbers?)\b)": "component",
    r"protections?": "safety feature",
    r"outcomes?": "result",
    r"e-mails?": "email",
    r"on (?:the |your )?bench": "in progress",
    r"put (?:it|them) on": "start",
    r"must be so": "required",
    r"met most often": "most likely cause",
    r"what becomes of it": "status",
    r"not kept|kept at|keeping": "saved",
    r"told|speaks|anew": "alarmed by, sounds, again",
    r"goes on standing|stands still|alarm speaks": "keep, pointer stuck, alarm sounds",
    r"whoever runs": "the administrator",
    r"for ever|for good": "permanently",
    r"(?:go to|back to) the start": "Home",
    r"does not answer|ran out": "does not respond, expired",
}
BANNED_IN_INSPECTIONS = re.compile(r"\b(?:is|are) kept\b", re.IGNORECASE)  # of readings and forms: saved
WHOLE = {r"clear": "Reset filters", r"place": "location", r"parts?": "component"}
# text that holds a banned word for a reason
ALLOWED = {
    "saved in part": "the everyday sense of the word",
    "invalid part": "the everyday sense of the word",
    "`duty`": "the name of a key of the API",
    "feature=ratio-protection": "an address",
    "failed outcome": "a stored value of the API",
    "on bench": "a stored value of the API",
    "applied part": "a defined term of IEC 60601-1",
    "readings on the bench": "the workplace",
}
BANNED_WORDS = re.compile("|".join(rf"(?P<w{n}>\b(?:{words})\b)" for n, words in enumerate(BANNED)), re.IGNORECASE)
NAMES = sorted((one.name for one in (*FEATURES.values(), *COMPONENT_KINDS.values())), key=len, reverse=True)
TAKEN_OUT = re.compile("|".join(map(re.escape, (*NAMES, *ALLOWED))), re.IGNORECASE)
SQL = re.compile(r"[A-Z_]+ [A-Z_.a-z]+.* (?:FROM|TO) |PRAGMA ")
TAG = re.compile(r"{%\s*(.*?)\s*%}", re.DOTALL)
COMMENT = re.compile(r"{%\s*comment\s*%}.*?{%\s*endcomment\s*%}|{#.*?#}", re.DOTALL)
LITERAL = re.compile(r"\"([^\"]*)\"|'([^']*)'")
CODE = re.compile(r"[a-z0-9_.:/&?=#|%-]*")
GIVEN = {"today": date(2026, 11, 29), "now": datetime(2026, 11, 29, tzinfo=UTC), "locked": {}}  # for tables
READ_ATTRIBUTES = ("title", "aria-label", "alt", "placeholder", "data-label")


def findings(texts) -> list[str]:
    """Return each banned word of (where, text) pairs with what to write in its place."""
    found = []
    for where, text in texts:
        plain = TAKEN_OUT.sub("…", " ".join(str(text).split()))
        for word, better in WHOLE.items():
            if re.fullmatch(word, plain, re.IGNORECASE):
                found.append(f"{where}: “{plain}”, better {better}")
        for match in BANNED_WORDS.finditer(plain):
            better = list(BANNED.values())[int(match.lastgroup[1:])]
            found.append(f"{where}: “{match[0]}” in “{plain[:120]}”, better {better}")
        if where.startswith("inspections") and BANNED_IN_INSPECTIONS.search(plain):
            found.append(f"{where}: “{plain[:120]}”, better saved")
    return found


class Read(HTMLParser):
    """Collects what a reader sees or hears of a template: text and the attributes that are read aloud."""

    def __init__(self):
        super().__init__()
        self.texts, self.within = [], []

    def handle_starttag(self, tag, attrs):
        self.texts += [value for name, value in attrs if name in READ_ATTRIBUTES and value]
        if tag in ("script", "style"):
            self.within.append(tag)

    def handle_endtag(self, tag):
        if self.within and self.within[-1] == tag:
            self.within.pop()

    def handle_data(self, data):
        if data.strip() and not self.within:
            self.texts.append(data)


def read_of(template: str) -> list[str]:
    """Return the texts of a template, those among the arguments of its tags and filters too."""
    source = COMMENT.sub("", template)
    tags = [match[1] for match in TAG.finditer(source)] + re.findall(r"{{(.*?)}}", source, re.DOTALL)
    literals = [first or second for tag in tags for first, second in LITERAL.findall(tag)]
    reader = Read()
    reader.feed(re.sub(r"{{.*?}}", " … ", TAG.sub(" ", source), flags=re.DOTALL))
    return reader.texts + [text for text in literals if not CODE.fullmatch(text)]


def templates() -> Iterator[tuple[str, str]]:
    for root in TEMPLATE_ROOTS:
        for path in sorted((ROOT / root).rglob("*.html")):
            for text in read_of(path.read_text(encoding="utf-8")):
                yield str(path.relative_to(ROOT)), text


def scripts() -> Iterator[tuple[str, str]]:
    for root in SCRIPT_ROOTS:
        for path in sorted((ROOT / root).glob("*.js")):
            texts = re.findall(r'"((?:[^"\\\n]|\\.)*)"', path.read_text(encoding="utf-8"))
            yield from ((str(path.relative_to(ROOT)), text) for text in texts if " " in text)


def model_texts() -> Iterator[tuple[str, str]]:
    """Names, help and labels of the models, without what Django itself says of an account."""
    for model in (model for app in APPS for model in apps.get_app_config(app).get_models()):
        where = model._meta.label
        yield where, model._meta.verbose_name
        yield from ((where, name) for _, name in model._meta.permissions)
        for field in model._meta.get_fields():
            if not hasattr(field, "verbose_name") or hasattr(AbstractUser, field.name):
                continue
            for text in (field.verbose_name, field.help_text, *(label for _, label in field.flatchoices)):
                yield f"{where}.{field.name}", text


def classes_of(base, room: str):
    """The subclasses of `base` that the modules of a package define."""
    package = import_module(room)
    modules = [import_module(found.name) for found in walk_packages(package.__path__, f"{room}.")]
    for module in modules:
        for each in vars(module).values():
            if isclass(each) and issubclass(each, base) and each.__module__ == module.__name__:
                yield each


def form_texts() -> Iterator[tuple[str, str]]:
    for form in (form for app in APPS for form in classes_of(BaseForm, f"{app}.forms")):
        for name, field in getattr(form, "base_fields", {}).items():
            where = f"{form.__module__}.{form.__name__}.{name}"
            label = field.label if field.label is not None else name.replace("_", " ")
            choices = getattr(field, "choices", ()) if not hasattr(field, "queryset") else ()
            for text in (label, field.help_text, *field.error_messages.values(), *(label for _, label in choices)):
                yield where, text


def table_texts() -> Iterator[tuple[str, str]]:
    for table in (table for app in APPS for table in classes_of(Table, f"{app}.tables")):
        given = {name: GIVEN[name] for name in signature(table.__init__).parameters if name in GIVEN}
        shown = table([], **given)
        yield table.__name__, shown.empty_text or ""
        yield from ((table.__name__, column.header) for column in shown.columns)


def file_texts() -> Iterator[tuple[str, str]]:
    """What the import page says of each kind of file and of its columns."""
    for kind in KINDS.values():
        yield from ((kind.code, text) for text in (kind.title, kind.one, kind.many, kind.about))
        yield from ((f"{kind.code}.{column.name}", column.help) for column in kind.columns.values())


def entries() -> Iterator[tuple[str, str]]:
    """The texts of procedures, criteria and catalogue entries."""
    shown = re.compile(
        r'^(?:title|purpose|instruction|item|caution|reason|name|says|does|group|unit) = "(.*)"$', re.MULTILINE
    )
    for root in PYTHON_ROOTS:
        for path in sorted((ROOT / root).rglob("*.toml")):
            if not str(path.relative_to(ROOT)).startswith(tuple(LEFT_OUT)):
                yield from ((str(path.relative_to(ROOT)), text) for text in shown.findall(path.read_text()))


def bench_texts() -> Iterator[tuple[str, str]]:
    """Every text of a bench test that a page or a paper shows."""
    for code, test in TESTS.items():
        specs = (*test.readings, *(column for table in test.tables for column in table.columns), *test.tables)
        texts = [test.title, test.purpose, *test.cautions, test.source]
        texts += [text for spec in specs for text in (spec.label, spec.help)]
        texts += [text for one in test.choices for text in (one.label, *(label for _, label in one.options))]
        texts += [text for result in test.results for text in (result.label, result.convention)]
        texts += [text for limit in test.default_limits for text in (limit.title, limit.note)]
        yield from ((f"inspections.bench {code}", text) for text in texts)


def sentences() -> Iterator[tuple[str, str]]:
    """The texts of more than one word in the modules: refusals, messages, headings, help of commands."""
    for root in PYTHON_ROOTS:
        for path in sorted((ROOT / root).rglob("*.py")):
            name = str(path.relative_to(ROOT))
            if not name.startswith(tuple(LEFT_OUT)):
                yield from ((name, text) for text in texts_of(ast.parse(path.read_text(encoding="utf-8"))))


def texts_of(tree: ast.AST) -> Iterator[str]:
    """The texts of a module, those with values in them as one; not its docstrings and not what is a single word."""
    inner = {id(part) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for part in ast.walk(node)}
    inner |= {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    inner |= {id(part) for node in ast.walk(tree) if _is_list_of_names(node) for part in ast.walk(node)}
    for node in ast.walk(tree):
        text = _joined(node) if isinstance(node, ast.JoinedStr) else _text(node, inner)
        if (" " in text.strip() or text[:1].isupper()) and not SQL.match(text):
            yield text


def _is_list_of_names(node):
    return isinstance(node, ast.Assign) and any(getattr(target, "id", "") == "__all__" for target in node.targets)


def _joined(node):
    return "".join(str(piece.value) if isinstance(piece, ast.Constant) else "…" for piece in node.values)


def _text(node, inner):
    is_text = isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in inner
    return node.value if is_text else ""


SOURCES = (templates, scripts, model_texts, form_texts, table_texts, file_texts, entries, bench_texts, sentences)


@pytest.mark.parametrize("source", SOURCES, ids=lambda source: source.__name__)
def test_what_people_read_has_the_words_of_the_glossary(source):
    texts = list(source())
    assert len(texts) > 15
    assert findings(texts) == []


@pytest.mark.parametrize(
    ("template", "told"),
    [
        ('<p title="The maker">', "manufacturer"),
        ("<th>Duty</th>", "status"),
        ('{% include "x.html" with title="No long work yet" %}', "background jobs"),
        ('<dd>{{ name|default:"out of use" }}</dd>', "withdrawn from use"),
        ("<a href='.'>Clear</a>", "Reset filters"),
        ("{% if x %}<b>The\n  joint</b>{% endif %}", "connection"),
    ],
)
def test_a_banned_word_is_found_wherever_a_template_shows_it(template, told):
    (found,) = findings([("here", text) for text in read_of(template)])
    assert told in found


@pytest.mark.parametrize(
    "text", ["Minimum oxygen ratio protection", "spare parts", "The part number", "part of it", "E5 clear of traffic"]
)
def test_proper_names_and_the_trades_own_words_are_no_finding(text):
    assert findings([("here", text)]) == []


def test_a_refusal_with_a_banned_word_is_found_in_a_module():
    tree = ast.parse(
        '"""The maker."""\n\ndef f(x):\n    """Return the duty."""\n    raise X(f"The duty of {x} is kept.")'
    )
    assert len(findings([("module", text) for text in texts_of(tree)])) == 1
