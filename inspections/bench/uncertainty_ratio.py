"""Whether instruments are good enough for a test, before the work: test uncertainty ratios at typical readings.

The ratio is half the tolerance over the expanded uncertainty (95 %) of the result. 4 : 1 is desired. Source: ANSI/NCSL
Z540.3, from memory. Below 1 : 1 a result near its limit decides nothing (judging.py); between them the guard band of
one U decides less often. Source: ILAC-G8:09/2019.

Typical readings are those of examples.py: invented, of an ordinary machine. The uncertainty is that which the test
itself computes from them, with every error that readings share.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf, sqrt

from .declarations import Context, ReadingSpec, Test
from .errors import BenchError
from .examples import EXAMPLES
from .guard import evaluate
from .instruments import Accuracy, Instrument, Scale
from .limits import Limit
from .quantities import Dimension, to_si
from .readings import Reading, Sheet
from .results import Result
from .serialise import context_from_dict, sheet_from_dict

DESIRED, LEAST = 4.0, 1.0
ALMOST_EXACT = 1e-6  # factor of an accuracy that adds nothing any more; none at all would count as not stated
SYNTHETIC = Accuracy(of_reading=0.01)  # of an instrument that is thought of where there is none


@dataclass(frozen=True, slots=True)
class Place:
    """Where a test asks for an instrument: the keys of the place, its dimension, and its typical values in SI."""

    field: str
    column: str
    spec: ReadingSpec
    unit: str
    values_si: tuple[float, ...]

    @property
    def largest_si(self) -> float:
        return max(self.values_si, key=abs)


@dataclass(frozen=True, slots=True)
class Ratio:
    """One result of a test: half its tolerance over U, both in SI."""

    result: Result
    limit: Limit
    half_tolerance_si: float
    expanded_si: float

    @property
    def ratio(self) -> float:
        return self.half_tolerance_si / self.expanded_si if self.expanded_si else inf

    def sufficient_si(self, ratio: float) -> float:
        """Return the expanded uncertainty that gives this ratio."""
        return self.half_tolerance_si / ratio


@dataclass(frozen=True, slots=True)
class NeededAccuracy:
    """What an instrument must have: accuracy_si is +/- at k = 2 for a reading of value_si in a place."""

    place: Place
    value_si: float
    accuracy_si: float


def typical_sheet(test: Test) -> tuple[Sheet, Context]:
    """Return the sheet and context of the example of a test. Raises KeyError for a test that has none."""
    example = EXAMPLES[test.code]
    context = context_from_dict(example["context"], instruments=example.get("instruments", ()))
    given = {key: example[key] for key in ("values", "tables", "choices") if key in example}
    return sheet_from_dict(given), context


def places_of(test: Test, sheet: Sheet) -> list[Place]:
    """Return each place of a sheet that needs an instrument, with its typical values."""
    found: dict[tuple[str, str], list[Reading]] = {}
    for key, reading in sheet.values.items():
        found.setdefault((key, ""), []).append(reading)
    for key, rows in sheet.tables.items():
        for row in rows:
            for column, reading in row.items():
                found.setdefault((key, column), []).append(reading)
    pairs = [(place, _spec(test, *place), readings) for place, readings in found.items()]
    return [
        Place(*place, spec, readings[0].unit, tuple(_si(one) for one in readings))
        for place, spec, readings in pairs
        if spec.needs_instrument and any(one.instrument for one in readings)
    ]


def _spec(test: Test, field: str, column: str) -> ReadingSpec:
    if not column:
        return next(spec for spec in test.readings if spec.key == field)
    table = next(table for table in test.tables if table.key == field)
    return next(spec for spec in table.columns if spec.key == column)


def _si(reading: Reading) -> float:
    return to_si(reading.value, reading.unit, zero=reading.zero, ambient_pa_abs=101_325.0)


def with_instruments(sheet: Sheet, chosen: Mapping[tuple[str, str], str]) -> Sheet:
    """Return the sheet read with other instruments: code by place, no entry for a place without one."""
    values = {key: replace(one, instrument=chosen.get((key, ""))) for key, one in sheet.values.items()}
    tables = {
        key: tuple({c: replace(one, instrument=chosen.get((key, c))) for c, one in row.items()} for row in rows)
        for key, rows in sheet.tables.items()
    }
    return Sheet(values, tables, sheet.choices)


def ratios(test: Test, sheet: Sheet, context: Context, judges: Mapping[str, Sequence[Limit]]) -> list[Ratio]:
    """Return the ratio of each judged result with an uncertainty, by the narrowest tolerance that judges it.

    judges  limits by result key; for a result without an entry that which the test itself applies
    """
    found = []
    for result in evaluate(test, sheet, context).results:
        limits = judges.get(result.key) or ((result.limit,) if result.limit else ())
        widths = [(limit.tolerance_si, number) for number, limit in enumerate(limits) if limit.tolerance_si]
        if widths and result.is_measured and result.unit != "yes/no" and result.expanded_uncertainty_si:
            width, number = min(widths)
            found.append(Ratio(result, limits[number], width / 2, result.expanded_uncertainty_si))
    return found


def needed_accuracy(
    test: Test, sheet: Sheet, context: Context, places: Sequence[Place], one: Ratio, ratio: float
) -> list[NeededAccuracy]:
    """Return the accuracy with which a result would have a ratio: of one instrument if that is enough, else of all.

    Empty where no accuracy would do: resolution, ambient values or the method itself leave more.
    """
    target, now = one.sufficient_si(ratio), one.expanded_si
    dimensions = list(dict.fromkeys(place.spec.dimension for place in places))
    without = {d: _expanded(test, sheet, _scaled(context, (d,), ALMOST_EXACT), one) for d in dimensions}
    for chosen in [[d] for d in sorted(dimensions, key=without.get)[:1]] + [dimensions]:
        rest = _expanded(test, sheet, _scaled(context, chosen, ALMOST_EXACT), one)
        if rest < target and rest < now:
            factor = sqrt((target**2 - rest**2) / (now**2 - rest**2))
            return [_needed(sheet, context, place, factor) for place in _largest(places, chosen)]
    return []


def _expanded(test: Test, sheet: Sheet, context: Context, one: Ratio) -> float:
    try:
        results = evaluate(test, sheet, context).results
    except BenchError:
        return inf
    found = next((result for result in results if result.key == one.result.key), None)
    return inf if found is None or found.expanded_uncertainty_si is None else found.expanded_uncertainty_si


def _scaled(context: Context, dimensions: Iterable[Dimension], factor: float) -> Context:
    """Return the context with instruments of dimensions that are better by a factor."""
    chosen = set(dimensions)
    better = {
        code: replace(one, scales=tuple(_better(s, factor) if s.dimension in chosen else s for s in one.scales))
        for code, one in context.instruments.items()
    }
    return replace(context, instruments=better)


def _better(scale: Scale, factor: float) -> Scale:
    own = scale.accuracy
    accuracy = Accuracy(
        own.of_reading * factor, own.of_span * factor, own.absolute_si * factor, own.coverage_factor
    )  # fmt: skip
    if (correction := scale.correction) is None:
        return replace(scale, accuracy=accuracy)
    stds = tuple(std * factor for std in correction.stds_si)
    finer = {"residual_si": correction.residual_si * factor, "drift_si": correction.drift_si * factor}
    return replace(scale, accuracy=accuracy, correction=replace(correction, stds_si=stds, **finer))


def _largest(places: Sequence[Place], dimensions: Sequence[Dimension]) -> list[Place]:
    """Return the place with the largest typical value of each dimension."""
    return [
        max((place for place in places if place.spec.dimension == dimension), key=lambda one: abs(one.largest_si))
        for dimension in dimensions
    ]


def _needed(sheet: Sheet, context: Context, place: Place, factor: float) -> NeededAccuracy:
    reading = sheet.values[place.field] if not place.column else sheet.tables[place.field][0][place.column]
    scales = context.instruments[reading.instrument].scales_for(place.spec.dimension)
    scale = next(scale for scale in scales if scale.holds(place.largest_si))
    std = scale.accuracy_std(place.largest_si)
    if scale.correction and scale.correction.covers(place.largest_si):
        std = scale.correction.std_at(place.largest_si)
    return NeededAccuracy(place, place.largest_si, 2 * std * factor)


def thought_of(place: Place) -> Instrument:
    """Return an instrument of 1 % of the reading for a place for which there is none, to compute what it must have."""
    bounds, size = place.spec.dimension.entry.bounds, abs(place.largest_si)
    reach = min(max(2 * size, 1000 * bounds.finest), bounds.high)
    low = max(-reach, bounds.low) if min(place.values_si) < 0 else 0.0
    scale = Scale(place.spec.dimension, low, reach, max(1e-4 * size, bounds.finest), SYNTHETIC)
    return Instrument(f"none for {place.field} {place.column}".strip(), "thought of", (scale,))
