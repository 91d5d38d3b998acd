"""README.md, DEVELOPERS.md and the pages of Help name what exists, and the pictures of the tour are small."""

import re
import struct
from html import unescape
from pathlib import Path

import pytest
from django.core.management import get_commands, load_command_class

from config.help.topics import TOPICS

ROOT = Path(__file__).resolve().parents[1]
HELP = ROOT / "config" / "templates" / "help"
PAGES = {
    path.name: unescape(path.read_text()) for path in [ROOT / "README.md", ROOT / "DEVELOPERS.md", *HELP.glob("*.html")]
}
LINK = re.compile(r"\]\(((?!http)[^)#]+)\)")
COMMAND = re.compile(r"manage\.py (\w+)([^\n`<]*)")
OPTION = re.compile(r"(?<!\S)--[a-z-]+")
FILE = re.compile(r"\b(?:docker|config|fleet|inspections|tests)/[\w./-]+\.(?:py|toml|yaml|md|html|css|js|example)\b")
PICTURES = sorted((ROOT / "config" / "static" / "bobbin" / "tour").glob("*.png"))


def options_of(name):
    """Return the options of a command and of its subcommands."""
    parser = load_command_class(get_commands()[name], name).create_parser("manage.py", name)
    parsers, found = [parser], set()
    for one in parsers:
        for action in one._actions:
            found |= set(action.option_strings)
            if isinstance(action.choices, dict):
                parsers += action.choices.values()
    return found


@pytest.mark.parametrize("page", PAGES)
def test_every_command_that_a_page_gives_exists_with_its_options(page):
    for name, rest in COMMAND.findall(PAGES[page]):
        assert name in get_commands(), name
        given = set(OPTION.findall(rest.split("#")[0].split(" -- ")[0]))
        assert given <= options_of(name), f"{name} {rest}"


@pytest.mark.parametrize("page", PAGES)
def test_every_file_that_a_page_names_exists(page):
    named = set(FILE.findall(PAGES[page]))
    assert {name for name in named if not (ROOT / name).exists()} == set()


def test_every_link_of_the_readme_leads_to_a_file():
    links = LINK.findall(PAGES["README.md"])
    assert len(links) > len(TOPICS)
    assert [link for link in links if not (ROOT / link).is_file()] == []


def test_the_readme_is_short_and_links_every_topic_of_help():
    text = PAGES["README.md"]
    assert len(text.splitlines()) <= 150
    assert [topic.slug for topic in TOPICS if f"(config/templates/{topic.template})" not in text] == []


def test_the_readme_says_why_a_test_may_be_skipped():
    assert re.search(r"skips the\s+tests that need a missing program", PAGES["README.md"])


def test_the_map_for_developers_is_read_in_ten_minutes():
    before_the_table = PAGES["DEVELOPERS.md"].split("<!-- who may do what: start -->")[0]
    assert len(before_the_table.splitlines()) <= 300


def test_the_pictures_of_the_tour_are_small_and_as_wide_as_the_page():
    assert len(PICTURES) == 3
    for picture in PICTURES:
        data = picture.read_bytes()
        assert len(data) < 60_000, picture.name
        assert struct.unpack(">I", data[16:20]) == (1280,), picture.name
