import pytest
import time_machine

from tests.inspections.chain.store import make_store
from tests.services.rows_of_module import rows_of_module


@pytest.fixture(scope="module")
def store_of_module(request, tmp_path_factory):
    with rows_of_module(request, lambda: make_store(tmp_path_factory.mktemp("store"))) as copy:
        yield copy


@pytest.fixture
def store(db, store_of_module):
    """Six entries at two sites."""
    return store_of_module()


@pytest.fixture
def older_store(db, tmp_path):
    """The same without what records of older days have not: remarks, photographs and minutes."""
    return make_store(tmp_path, notes=False)


@pytest.fixture
def time_machine_at():
    """Set the clock of the process for the body of a `with`."""
    return lambda moment: time_machine.travel(moment, tick=False)
