"""How a test declares itself: one declaration feeds form, live result, record and command line."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from .instruments import Instrument
from .limits import Limit
from .quantities import Dimension, Zero
from .readings import Sheet
from .results import Evaluation


@dataclass(frozen=True, slots=True)
class Context:
    """What the test needs in addition to the readings.

    ambient_pa_abs  ambient pressure, Pa absolute
    temperature_k   ambient temperature, K
    rated           rated values of the machine by key, SI, pressures gauge
    instruments     by code
    limits          by result key: the limit chosen for this machine; wins over the test's defaults
    built_year      chooses among the default limits
    """

    ambient_pa_abs: float = 101_325.0
    temperature_k: float = 293.15
    rated: Mapping[str, float] = field(default_factory=dict)
    instruments: Mapping[str, Instrument] = field(default_factory=dict)
    limits: Mapping[str, Limit] = field(default_factory=dict)
    built_year: int | None = None


@dataclass(frozen=True, slots=True)
class ReadingSpec:
    """One reading that a test asks for; units[0] is the default.

    needs_instrument  False for what the machine itself shows, what is set or stated, and for time and the like, where
                      no calibrated instrument has to be named
    """

    key: str
    label: str
    dimension: Dimension
    zero: Zero | None
    units: tuple[str, ...]
    help: str = ""
    required: bool = True
    needs_instrument: bool = True


@dataclass(frozen=True, slots=True)
class TableSpec:
    """A table of readings. min_rows 0 means that it may be left out."""

    key: str
    label: str
    columns: tuple[ReadingSpec, ...]
    min_rows: int
    suggested_rows: int
    help: str = ""


@dataclass(frozen=True, slots=True)
class ChoiceSpec:
    """A choice among (value, label) options."""

    key: str
    label: str
    options: tuple[tuple[str, str], ...]
    default: str


@dataclass(frozen=True, slots=True)
class ResultSpec:
    """A result that the test can give, with the unit to show and the convention it follows."""

    key: str
    label: str
    dimension: Dimension
    unit: str
    convention: str


@dataclass(frozen=True, slots=True)
class Test:
    """One bench test. `evaluate` is pure; it never raises for an incomplete sheet.

    It raises BenchError for a reading that cannot be.
    """

    code: str
    family: str
    title: str
    purpose: str
    cautions: tuple[str, ...]
    readings: tuple[ReadingSpec, ...]
    tables: tuple[TableSpec, ...]
    choices: tuple[ChoiceSpec, ...]
    rated: tuple[str, ...]
    results: tuple[ResultSpec, ...]
    default_limits: tuple[Limit, ...]
    source: str
    evaluate: Callable[[Sheet, Context], Evaluation]

    def result_spec(self, key: str) -> ResultSpec:
        """Return the declaration of a result. Raises KeyError if the test has none such."""
        return next(spec for spec in self.results if spec.key == key)
