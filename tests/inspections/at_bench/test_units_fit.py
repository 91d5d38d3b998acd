import pytest

from inspections.bench import UNITS
from inspections.models import LimitOverride, Result, Reading


@pytest.mark.parametrize("model", [LimitOverride, Result, Reading])
def test_every_unit_of_the_bench_fits_its_column(model):
    """PostgreSQL refuses what is longer; SQLite keeps it."""
    room = model._meta.get_field("unit").max_length
    assert [unit for units in UNITS.values() for unit in units if len(unit) > room] == []
