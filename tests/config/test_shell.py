"""The page shell: every element that a page may use is styled, nothing runs inline, and errors need no context."""

import re
from pathlib import Path

import django_tables2 as tables
import pytest
from django import forms
from django.contrib.staticfiles import finders
from django.core.paginator import Paginator
from django.template.loader import render_to_string
from django.test import RequestFactory

from config.navigation import navigation
from fleet.models import Person

CONFIG = Path(__file__).parents[2] / "config"
STYLESHEETS = sorted((CONFIG / "static" / "bobbin").glob("*.css"))
TEMPLATES = sorted((CONFIG / "templates").rglob("*.html"))
ERROR_PAGES = ("400.html", "403.html", "403_csrf.html", "404.html", "405.html", "500.html", "503.html")


class AssetTable(tables.Table):
    asset = tables.Column()
    gaps = tables.Column(attrs={"td": {"class": "num"}, "th": {"class": "num"}})

    class Meta:
        template_name = "bobbin/table.html"
        empty_text = "No machine matches."


class AssetForm(forms.Form):
    asset = forms.CharField(help_text="As on the plate.")
    note = forms.CharField(required=False)
    sure = forms.BooleanField(label="I am sure")


def render_table(rows, query):
    request = RequestFactory().get(f"/{query}")
    table = AssetTable(rows)
    tables.RequestConfig(request, paginate={"per_page": 5}).configure(table)
    return table.as_html(request)


def styled_classes():
    rules = (re.sub(r"/\*.*?\*/", "", sheet.read_text(), flags=re.S) for sheet in STYLESHEETS)
    return set(re.findall(r"\.([a-z][a-z0-9-]*)", "".join(rules)))


def test_every_class_on_the_style_sheet_page_is_styled():
    page = (CONFIG / "templates" / "styleguide.html").read_text()
    used = set(" ".join(re.findall(r'class="([^"{]*)"', page)).split())
    assert used and used - styled_classes() == set()


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda path: path.name)
def test_a_template_has_no_inline_script_style_or_handler(template):
    text = template.read_text()
    assert re.findall(r"<script(?![^>]*\bsrc=)|<style|\sstyle=|\son[a-z]+=\"", text) == []


@pytest.mark.parametrize("name", ERROR_PAGES)
def test_an_error_page_needs_no_context_and_keeps_the_caution(name):
    page = render_to_string(name)
    assert "<h1>" in page and "A person signs." in page and 'href="/"' in page


def test_every_file_that_the_shell_links_exists():
    linked = re.findall(r'(?:src|href)="/static/([^"?]+)"', render_to_string("base.html"))
    assert len(linked) >= 6
    assert [path for path in linked if not finders.find(re.sub(r"\.[0-9a-f]{12}(?=\.)", "", path))] == []


def test_the_typefaces_and_signs_of_the_stylesheet_exist():
    sheet = CONFIG / "static" / "bobbin" / "bobbin.css"
    for link in re.findall(r'url\("([^"]+)"\)', sheet.read_text()):
        assert finders.find(str(Path("bobbin") / link).replace("bobbin/../", "")), link


def test_the_navigation_tells_where_you_are():
    nav = [{"label": "Register", "url": "/machines/", "is_current": True}, {"label": "Plan", "url": "/plan/"}]
    page = render_to_string("base.html", {"nav": nav})
    assert '<a href="/machines/" aria-current="page">Register</a>' in page and '<a href="/plan/">Plan</a>' in page


@pytest.mark.parametrize(
    ("path", "label"),
    [("/", "Home"), ("/machines/4/", "Machines"), ("/notices/3/", "Findings"), ("/alterations/add/", "Cover"),
     ("/money/", "Retirement"), ("/help/", None)],
)  # fmt: skip
def test_a_page_is_marked_under_the_entry_that_leads_to_it(rf, path, label):
    request = rf.get(path)
    request.user, request.resolver_match = Person(is_superuser=True, is_active=True), None
    marked = [entry["label"] for entry in navigation(request)["nav"] if entry["is_current"]]
    assert marked == [label] * bool(label)


def test_a_table_sorts_pages_and_keeps_its_filters():
    html = render_table(
        [{"asset": f"NR-{number:02}", "gaps": number} for number in range(12)], "?sort=-gaps&site=4&page=2"
    )
    assert 'aria-sort="descending"' in html and html.count("aria-sort") == 1
    assert "6 to 10 of 12" in html and html.index("NR-06") < html.index("NR-02")
    links = re.findall(r'href="\?([^"]+)"', html)
    assert links and all("site=4" in link for link in links)


def test_a_table_without_rows_says_what_it_has_been_told_to():
    html = render_table([], "")
    assert "No machine matches." in html and "<table" not in html


def test_a_form_ties_label_help_and_error_to_its_field():
    html = str(AssetForm({"asset": "", "note": "", "sure": "on"}))
    assert '<label for="id_asset">Asset</label>' in html and '<ul class="errors errorlist" id="id_asset_error">' in html
    assert 'aria-describedby="id_asset_helptext id_asset_error"' in html and 'aria-invalid="true"' in html


def test_a_field_that_may_stay_empty_says_so_and_a_box_to_tick_does_not():
    html = str(AssetForm())
    assert html.count("(optional)") == 1 and 'class="field check-field"' in html


def test_what_a_person_typed_is_never_read_as_markup():
    html = render_to_string("bobbin/mark.html", {"word": "<b>pass</b>"})
    assert "<b>" not in html and "&lt;b&gt;" in html


def test_a_list_in_pages_says_where_it_is_and_keeps_its_filters():
    request = RequestFactory().get("/?site=4&page=2")
    html = render_to_string("bobbin/pager.html", {"page": Paginator(range(30), 10).page(2)}, request)
    assert "11 to 20 of 30" in html and "site=4&amp;page=3" in html
