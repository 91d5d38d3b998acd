import pytest

from tests.inspections.chain.store import make_store


@pytest.fixture
def store(db, tmp_path):
    """Six entries at two sites."""
    return make_store(tmp_path)
