"""A dimension that is in the table during a test."""

from contextlib import contextmanager

from fleet.catalogue.dimensions import Bounds, Dimension, Unit, add_dimensions, remove_dimension
from fleet.catalogue.loading import Basis, Source

NM = Unit("Nm", 1.0, decimals=2, spellings=("newton metre",))
SOURCE = Source("a test", "", Basis.COMMON_PRACTICE)
TORQUE = Dimension("torque", "Torque", "Nm", (NM, Unit("mNm", 0.001)), Bounds(-500.0, 500.0, 1e-6, NM, SOURCE))


@contextmanager
def added(dimension=TORQUE):
    add_dimensions([dimension])
    try:
        yield dimension
    finally:
        remove_dimension(dimension.code)
