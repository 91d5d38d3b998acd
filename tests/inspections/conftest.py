import pytest

from tests.inspections.scenes import make_scene


@pytest.fixture
def scene(db, tmp_path):
    """A machine on the bench with a short procedure."""
    return make_scene(tmp_path)
