"""Screens, papers, procedures and bench tests use one word for one thing; the list is the glossary in DEVELOPERS.md."""

import re
from pathlib import Path

import pytest
from django.apps import apps

import inspections
from inspections.bench import TESTS

ROOT = Path(inspections.__file__).parent
NEVER = re.compile(
    r"\b(makers?|outcomes?|protections|duty|out of use|out of service|must (not )?be so|put it on|on your bench"
    r"|on bench|is kept|are kept|not kept|told|speaks|anew)\b",
    re.IGNORECASE,
)
SHOWN = re.compile(r'^(?:title|purpose|instruction|item|name|says|does|group|unit) = "(.*)"$', re.MULTILINE)
MARKUP = re.compile(r"{%.*?%}|{{.*?}}|<[^>]*>", re.DOTALL)
LABELLED = list(apps.get_app_config("inspections").get_models())


def strange(text):
    return [found.group() for found in NEVER.finditer(text)]


@pytest.mark.parametrize("path", sorted((ROOT / "templates").rglob("*.html")), ids=lambda path: path.name)
def test_a_template_uses_the_words_of_the_trade(path):
    text = re.sub(r"{% comment %}.*?{% endcomment %}", "", path.read_text(), flags=re.DOTALL)
    quoted = re.findall(r'(?:title|text|submit|action|note|aria-label)="([^"{]+)"', text)
    assert not strange(MARKUP.sub(" ", text)) and not strange("\n".join(quoted))


@pytest.mark.parametrize("path", sorted(ROOT.rglob("*.toml")), ids=lambda path: path.name)
def test_procedures_and_criteria_use_the_words_of_the_trade(path):
    texts = re.findall(
        r'^(?:title|purpose|instruction|item|name|says|does|group|unit|body|note) = "(.*)"$', path.read_text(), re.M
    )
    assert texts and not strange("\n".join(texts))


def declared(test):
    """Yield every text of a bench test that a page or a paper shows."""
    yield from (test.title, test.purpose, *test.cautions, test.source)
    for spec in (*test.readings, *(column for table in test.tables for column in table.columns)):
        yield from (spec.label, spec.help)
    for table in test.tables:
        yield from (table.label, table.help)
    for choice in test.choices:
        yield from (choice.label, *(label for _, label in choice.options))
    for result in test.results:
        yield from (result.label, result.convention)
    for limit in test.default_limits:
        yield from (limit.title, limit.note)


@pytest.mark.parametrize("code", sorted(TESTS))
def test_a_bench_test_uses_the_words_of_the_trade(code):
    assert not strange("\n".join(declared(TESTS[code])))


@pytest.mark.parametrize("model", LABELLED, ids=lambda model: model.__name__)
def test_choices_and_help_texts_use_the_words_of_the_trade(model):
    fields = [field for field in model._meta.get_fields() if not field.auto_created]
    texts = [str(label) for field in fields for _, label in getattr(field, "flatchoices", ()) or ()]
    texts += [str(getattr(field, "help_text", "")) for field in fields]
    assert not strange("\n".join(texts))
