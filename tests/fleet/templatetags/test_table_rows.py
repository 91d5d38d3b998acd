"""The rows of a table, compared with what a template makes of the same table cell by cell."""

import re

import django_tables2 as tables
import pytest
from django.template import Context, Template
from django.utils.html import format_html
from django.utils.translation import override

from fleet.models import Machine
from tests.factories import make_machine

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


class OfMachines(tables.Table):
    asset_number = tables.Column(attrs={"td": {"class": "fix"}})
    status = tables.Column()  # a choice, in words
    model = tables.Column()
    built_year = tables.Column(default="not known", localize=False)
    site = tables.Column()  # a property
    nowhere = tables.Column(empty_values=())  # no attribute of a machine
    current = tables.Column()  # a row that may be missing
    place = tables.Column(accessor="area__name")
    missing = tables.Column()
    named = tables.Column(accessor="asset_number", linkify=True)
    method = tables.Column(accessor="get_status_display")

    class Meta:
        model = Machine
        fields = ()

    def render_nowhere(self, record, value, column, bound_column, bound_row, table):
        return f"{record}, {value}, {column is bound_column.column}, {bound_row.record}, {table is self}"

    def render_asset_number(self, value, unheard_of):
        return value  # django-tables2 shows nothing where it cannot give what is asked for


@pytest.mark.django_db
def test_rows_of_a_model_are_read_more_directly_and_written_the_same():
    for number in range(3):
        make_machine(asset_number=f"<{number}>", built_year=None if number else 1998)
    rows = Machine.objects.order_by("pk")
    ours, theirs = written(OURS, OfMachines(rows)), written(BY_TEMPLATE, OfMachines(rows))
    assert ours == theirs
    assert "not known" in ours and "1998" in ours and "In service" in ours and "&lt;0&gt;" in ours
