import pytest
import time_machine

from tests.inspections.chain.store import make_store


@pytest.fixture
def store(db, tmp_path):
    """Six entries at two sites."""
    return make_store(tmp_path)


@pytest.fixture
def older_store(db, tmp_path):
    """The same without what records of older days have not: remarks, photographs and minutes."""
    return make_store(tmp_path, notes=False)


@pytest.fixture
def time_machine_at():
    """Set the clock of the process for the body of a `with`."""
    return lambda moment: time_machine.travel(moment, tick=False)
