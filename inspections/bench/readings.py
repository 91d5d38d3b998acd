"""What a person read at the bench, as read: values with their units, tables and choices."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from .quantities import Zero


@dataclass(frozen=True, slots=True)
class Reading:
    """One value as read.

    value       the number on the gauge; for an observation 1.0 is yes and 0.0 is no
    unit        a code of quantities.UNITS
    zero        for a pressure, gauge or absolute; None means as the test declares it
    instrument  code of the instrument that was read, None if it was not named
    repeats     what the same quantity was read as again, in the same unit; the mean of all counts
    """

    value: float
    unit: str
    zero: Zero | None = None
    instrument: str | None = None
    repeats: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Sheet:
    """All that was read for one test; it may be partly filled.

    values   reading by key
    tables   rows by table key, in the order read; a row maps column key to reading
    choices  chosen option by choice key
    """

    values: Mapping[str, Reading] = field(default_factory=dict)
    tables: Mapping[str, tuple[Mapping[str, Reading], ...]] = field(default_factory=dict)
    choices: Mapping[str, str] = field(default_factory=dict)
