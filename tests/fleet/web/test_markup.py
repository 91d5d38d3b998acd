"""What is written is what Django writes, character by character, for any value."""

import pytest
from django.utils import html
from django.utils.functional import lazystr
from django.utils.safestring import SafeString, mark_safe
from hypothesis import given
from hypothesis import strategies as st

from fleet.web.markup import format_html, format_html_join

PATTERN = '<a href="{}">{}</a>'


class Drawn:
    def __html__(self):
        return "<svg></svg>"


class Named:
    def __str__(self):
        return "<b>O'Neil</b>"


values = st.one_of(
    st.text(), st.text().map(mark_safe), st.text().map(lazystr), st.integers(), st.floats(), st.none(), st.booleans(),
    st.sampled_from([Drawn(), Named()]),
)  # fmt: skip


@given(values, values)
def test_a_pattern_is_filled_as_by_django(first, second):
    found = format_html(PATTERN, first, second)
    assert type(found) is SafeString and found == html.format_html(PATTERN, first, second)


@given(st.sampled_from(["", " ", "; ", "<br>", mark_safe("<br>")]), st.lists(st.tuples(values, values)))
def test_rows_are_joined_as_by_django(separator, rows):
    found = format_html_join(separator, PATTERN, iter(rows))
    assert type(found) is SafeString and found == html.format_html_join(separator, PATTERN, rows)


@pytest.mark.parametrize("text", ["<script>", '"', "'", "&amp;"])
def test_text_is_escaped_and_markup_is_not_escaped_again(text):
    once = format_html("{}", text)
    assert once == html.escape(text) != text and format_html("{}", once) == once
