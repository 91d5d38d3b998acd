import pytest
from django.core.cache import cache

from inspections.actions import issue_label
from tests.factories import NOON, make_area, make_machine, make_site


@pytest.fixture(autouse=True)
def counts():
    """No request of another test counts."""
    cache.clear()
    yield
    cache.clear()


@pytest.fixture
def site(db):
    return make_site(name="Quellwald hospital", has_label_page=True, fault_phone="ext. 4417")


@pytest.fixture
def label(site):
    return label_of_new_machine(site)


def label_of_new_machine(site, **fields):
    machine = make_machine(area=make_area(site), **fields)
    return issue_label(machine, by=None, at=NOON)
