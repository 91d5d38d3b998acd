"""The rows of a table, compared with what a template makes of the same table cell by cell."""

import re

import django_tables2 as tables
import pytest
from django.template import Context, Template
from django.utils.html import format_html
from django.utils.translation import override

BY_TEMPLATE = """{% load l10n %}{% for row in table.paginated_rows %}
<tr {{ row.attrs.as_html }}>{% for column, cell in row.items %}
  <td {{ column.attrs.td.as_html }}>{% if column.localize == None %}{{ cell }}{% elif column.localize %}
    {{ cell|localize }}{% else %}{{ cell|unlocalize }}{% endif %}</td>
{% endfor %}</tr>
{% endfor %}"""
OURS = "{% load table_rows %}{% table_rows table %}"


def look(value, record):
    return "low" if value == "1" or record["plain"] == "<b>" else "high"


class Everything(tables.Table):
    plain = tables.Column(attrs={"td": {"class": "num"}})
    number = tables.Column()
    kept = tables.Column(localize=False)
    written = tables.Column(localize=True)
    computed = tables.Column(attrs={"td": {"class": look, "data-of": lambda record: record["plain"]}})
    marked = tables.Column(empty_values=())
    missing = tables.Column(default="—")
    linked = tables.Column(accessor="plain", linkify=lambda value: f"/{len(value)}/")
    templated = tables.TemplateColumn("<i>{{ record.plain }}</i>")

    def render_marked(self, record, value, bound_column):
        return format_html("<u>{}</u>{}", record["plain"], bound_column.name) if value else None


class Attributed(Everything):
    class Meta:
        row_attrs = {"data-plain": lambda record: record["plain"], "class": "own"}
        attrs = {"td": {"data-table": lambda table: type(table).__name__}}


ROWS = [
    {"plain": plain, "number": 1234.5, "kept": 1234.5, "written": 1234.5, "computed": "1", "marked": marked}
    for plain in ("", "<b>", "a & 'b' \"c\"", "ä\u0301")
    for marked in (0, 1)
]


def written(template, table):
    text = Template(template).render(Context({"table": table}))
    return re.sub(r">\s+<", "><", re.sub(r">\s+([^<]*?)\s*</td>", r">\1</td>", text)).strip()


@pytest.mark.parametrize("table", [Everything, Attributed])
@pytest.mark.parametrize("language", ["en-gb", "de"])
def test_rows_are_written_as_a_template_writes_them_cell_by_cell(table, language):
    with override(language):
        ours, theirs = written(OURS, table(ROWS)), written(BY_TEMPLATE, table(ROWS))
    assert ours == theirs
    assert "&lt;b&gt;" in ours and "<b>" not in ours and "<u>" in ours and ours.count("<tr") == len(ROWS)


def test_only_the_rows_of_the_page_are_written():
    table = Everything(ROWS)
    table.paginate(per_page=3, page=2)
    assert written(OURS, table).count("<tr") == 3
