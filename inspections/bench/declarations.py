"""How a test declares itself: one declaration feeds form, live result, record and command line."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from fleet.catalogue.oxygen_supply import SuppliedOxygen

from .challenges import Challenge, NoChallenge
from .impossible import Pair
from .instruments import Instrument
from .limits import Limit
from .passages import passage_problem
from .quantities import Dimension, Zero
from .readings import Sheet
from .results import Evaluation

AMBIENT_STD_PA = 1000.0
"""Standard uncertainty of the ambient pressure, Pa: weather about the value for the altitude.

Respirology 2004; 9: 406-8 gives 98.0 to 104.3 kPa at sea level, as limits 1.8 kPa; about half of that is taken for
an ordinary day (common practice, no source).
"""
AMBIENT_STD_K = 1.0  # of the ambient temperature: a wall thermometer; common practice, no source


@dataclass(frozen=True, slots=True)
class Context:
    """What the test needs in addition to the readings.

    ambient_pa_abs  ambient pressure, Pa absolute
    temperature_k   ambient temperature, K
    rated           rated values of the machine by key, SI, pressures gauge
    instruments     by code
    limits          by result key: the limit chosen for this machine; wins over the test's defaults
    built_year      chooses among the default limits; None: not known, the strictest counts
    features        recorded state of safety features by code: "fitted", "not fitted", ...; absent: not known
    vaporizers      how many vaporizers the machine has, None if not known
    ambient_std_pa, temperature_std_k   standard uncertainty of the two
    oxygen          what the oxygen pipeline and cylinders of the site hold
    ventilator      type of the ventilator on record, as the option of its component says; empty: not known
    assumed         what of all this was not read but assumed, a sentence each, by key: "ambient", "temperature"
    lacks           equipment and gases that the machine is known to lack, by code (passages.EQUIPMENT)
    units           units chosen to show results and curves in, by code of a UnitChoice of fleet.place_format; what is
                    not among them is shown in the unit in which it was read
    """

    ambient_pa_abs: float = 101_325.0
    temperature_k: float = 293.15
    rated: Mapping[str, float] = field(default_factory=dict)
    instruments: Mapping[str, Instrument] = field(default_factory=dict)
    limits: Mapping[str, Limit] = field(default_factory=dict)
    built_year: int | None = None
    features: Mapping[str, str] = field(default_factory=dict)
    vaporizers: int | None = None
    ambient_std_pa: float = AMBIENT_STD_PA
    temperature_std_k: float = AMBIENT_STD_K
    assumed: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    oxygen: SuppliedOxygen = SuppliedOxygen()
    ventilator: str = ""
    lacks: frozenset[str] = frozenset()


Wanted = tuple[tuple[tuple[str, str], ...], ...]
"""The options with which a test reads something: alternatives, each of pairs of choice and option that go together.

Empty: it is read whatever is chosen.
"""


@dataclass(frozen=True, slots=True)
class ReadingSpec:
    """One reading that a test asks for; units[0] is the default.

    asked             True where a result that a complete sheet must give waits for it, though it is not required
    wanted            the options with which the test reads it
    needs_instrument  False for what the machine itself shows, what is set or stated, and for time and the like, where
                      no calibrated instrument has to be named
    judges            keys of the results whose decision this reading can change
    gas               what flows, where one test reads two gases: an instrument errs differently in each
    unjudged          why no decision rests on it, where `judges` is empty
    needs             equipment and gases without which it is not asked for, by code (passages.EQUIPMENT)
    """

    key: str
    label: str
    dimension: Dimension
    zero: Zero | None
    units: tuple[str, ...]
    help: str = ""
    required: bool = True
    needs_instrument: bool = True
    judges: tuple[str, ...] = ()
    unjudged: str = ""
    gas: str = ""
    asked: bool = False
    wanted: Wanted = ()
    needs: tuple[str, ...] = ()

    @property
    def is_optional(self) -> bool:
        """Whether no result that a complete sheet must give waits for it."""
        return not (self.required or self.asked)

    def __post_init__(self):
        if bool(self.judges) == bool(self.unjudged.strip()):
            raise TypeError(f"Reading {self.key}: name the results that it judges, or say why it judges none.")


@dataclass(frozen=True, slots=True)
class TableSpec:
    """A table of readings. min_rows 0 means that it may be left out.

    is_expected  True where a result is not tested without it, so that a form does not fold it away
    wanted       the options with which the test reads it
    sets         columns that a person sets: the rest of a row is what the machine does at these
    needs        as of a reading
    """

    key: str
    label: str
    columns: tuple[ReadingSpec, ...]
    min_rows: int
    suggested_rows: int
    help: str = ""
    is_expected: bool = False
    wanted: Wanted = ()
    sets: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()

    def __post_init__(self):
        if unknown := set(self.sets) - {column.key for column in self.columns}:
            raise TypeError(f"Table {self.key}: {sorted(unknown)} is set, and no column of it.")


@dataclass(frozen=True, slots=True)
class ChoiceSpec:
    """A choice among (value, label) options; `wanted` and `needs` as of a reading.

    option_needs  by option: the equipment and gases without which it is not offered; one option needs nothing
    """

    key: str
    label: str
    options: tuple[tuple[str, str], ...]
    default: str
    wanted: Wanted = ()
    needs: tuple[str, ...] = ()
    option_needs: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def __post_init__(self):
        values = {value for value, _ in self.options}
        if self.option_needs.keys() - values or self.option_needs.keys() == values:
            raise TypeError(f"Choice {self.key}: an option that there is not, or every option, needs something.")


def gas_options(options: Iterable[tuple[str, str]]) -> dict[str, tuple[str, ...]]:
    """Return the option_needs of a choice among gases of the machine, by code: all need the gas itself, but oxygen."""
    return {code: (code,) for code, _ in options if code != "oxygen"}


@dataclass(frozen=True, slots=True)
class ResultSpec:
    """A result that the test can give, with the unit to show and the convention it follows.

    challenge  what must have been done to the machine for it to mean anything, or why nothing has to be
    needed     whether a complete sheet must give it; else it is not tested. A function asks the Bench of the sheet
    unjudged   why it is only reported, where it has no limit
    own_limit  True where the test makes its limit from the readings
    """

    key: str
    label: str
    dimension: Dimension
    unit: str
    convention: str
    challenge: Challenge | NoChallenge
    needed: bool | Callable[[Any], bool] = False
    unjudged: str = ""
    own_limit: bool = False
    needs: tuple[str, ...] = ()

    def __post_init__(self):
        if not isinstance(self.challenge, Challenge | NoChallenge):
            raise TypeError(f"Result {self.key}: declare its challenge, or a NoChallenge with the reason.")

    def is_needed(self, bench: Any) -> bool:
        return self.needed(bench) if callable(self.needed) else self.needed


@dataclass(frozen=True, slots=True, eq=False)
class Test:
    """One bench test. `evaluate` is pure; it never raises for an incomplete sheet.

    It raises BenchError for a reading that cannot be. Its texts may have passages for machines with certain equipment;
    get_test() gives it as one machine takes it. Two tests are the same only if they are one object.
    features  safety features whose recorded state it asks for in its context
    asks      what else of the records it asks for: the fields "oxygen" and "ventilator" of its context
    pairs     readings that cannot both be right, with the reason
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
    features: tuple[str, ...] = ()
    asks: tuple[str, ...] = ()
    pairs: tuple[Pair, ...] = ()

    def __post_init__(self):
        judged = {one.key for one in self.default_limits} | {one.key for one in self.results if one.own_limit}
        for spec in self.results:
            if spec.key not in judged and not spec.unjudged.strip():
                raise TypeError(f"Test {self.code}: say why its result {spec.key} is not judged, or give it a limit.")
        keys = [one.key for one in (*self.readings, *self.tables, *self.choices)]
        if twice := next((key for key in keys if keys.count(key) > 1), ""):
            raise TypeError(f"Test {self.code}: {twice} is the key of two of its readings, tables and choices.")
        self._refuse_unknown_options()
        self._refuse_unreadable_passages()
        known = {spec.key for spec in self.results}
        for reading in self.all_readings():
            if unknown := [key for key in reading.judges if key not in known]:
                raise TypeError(f"Test {self.code}: reading {reading.key} judges {unknown[0]}, which is no result.")

    def _refuse_unknown_options(self) -> None:
        offered = {(choice.key, value) for choice in self.choices for value, _ in choice.options}
        for spec in (*self.all_readings(), *self.tables, *self.choices):
            if unknown := {pair for pairs in spec.wanted for pair in pairs} - offered:
                raise TypeError(f"Test {self.code}: {spec.key} is wanted with {sorted(unknown)}, which is not offered.")

    def _refuse_unreadable_passages(self) -> None:
        specs = (*self.all_readings(), *self.tables)
        texts = [
            self.title,
            self.purpose,
            *self.cautions,
            *(text for spec in specs for text in (spec.label, spec.help)),
        ]
        texts += [spec.label for spec in (*self.choices, *self.results)]
        if problem := next(filter(None, map(passage_problem, texts)), ""):
            raise TypeError(f"Test {self.code}: {problem}")

    def all_readings(self) -> tuple[ReadingSpec, ...]:
        """Return every reading that the test declares, those of its tables included."""
        return (*self.readings, *(column for table in self.tables for column in table.columns))

    def reading_at(self, field: str, column: str = "") -> ReadingSpec:
        """Return the declaration of a place; two tables may have columns of one key. Raises StopIteration for none."""
        specs = next(table.columns for table in self.tables if table.key == field) if column else self.readings
        return next(spec for spec in specs if spec.key == (column or field))

    def columns_set_in(self, field: str) -> tuple[str, ...]:
        """Return the columns that a person sets in a table; none for anything else."""
        return next((table.sets for table in self.tables if table.key == field), ())

    def result_spec(self, key: str) -> ResultSpec:
        """Return the declaration of a result. Raises KeyError if the test has none such."""
        return next(spec for spec in self.results if spec.key == key)
