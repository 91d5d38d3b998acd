"""Every list shows the values of its rows: a cell is a dash only where the row has no value."""

from types import SimpleNamespace

import pytest
from django.test import Client
from django.urls import reverse
from django_tables2 import Table

from config.groups import GROUPS
from fleet.models import Site
from tests.factories import make_person
from tests.matrix.addresses import all_addresses
from tests.matrix.scene import make_scene

DASH = "—"
COMPUTED = {"select"}  # check boxes, which have no value


@pytest.fixture
def tables(db):
    """The table of every page that shows one, with the address of the page."""
    scene = make_scene()
    client = Client()
    client.force_login(make_person(*GROUPS, sites=Site.objects.all()))
    found = []
    for address in all_addresses():
        if address.is_api or address.name == "logout":
            continue
        response = client.get(reverse(address.name, kwargs=scene.values_of(address)))
        if response.context and isinstance(response.context.get("table"), Table):
            found.append(SimpleNamespace(page=address.name, table=response.context["table"]))
    return found


def test_no_cell_is_a_dash_where_the_row_holds_a_value(tables):
    wrong, looked_at = [], 0
    for each in tables:
        for row in each.table.paginated_rows:
            for column, cell in row.items():
                held = getattr(row.record, column.name, None)
                if column.name in COMPUTED or held in (None, "") or callable(held):
                    continue
                looked_at += 1
                if str(cell).strip() in (DASH, ""):
                    wrong.append((each.page, column.name, held))
    assert not wrong
    assert looked_at > 40 and len(tables) >= 9
