"""Plain dictionaries, fit for JSON, of sheets, contexts, limits, evaluations and tests.

Numbers that are infinite become null. What comes in is checked; BenchError says where it is wrong.
"""

from collections.abc import Mapping, Sequence
from dataclasses import MISSING, asdict, fields
from math import inf, isinf

from fleet.place_format import unit_choice_problem

from .decisions import Decision
from .declarations import AMBIENT_STD_K, AMBIENT_STD_PA, Context, ReadingSpec, ResultSpec, Test
from .errors import BenchError
from .guard import refuse_limit, refuse_use
from .json_shapes import listed_in, mapping, number, only
from .json_text import shown
from .limits import Limit, choose_limit
from .quantities import SI_UNITS, Zero, dimension_of, from_si, interval_from_si, to_si
from .readings import Reading, Sheet
from .results import Curve, Evaluation, Mark, NotJudged, Result, Series
from .serialise_instruments import instrument_from_dict, instrument_to_dict
from .serialise_recorded import recorded_from_dict, recorded_to_dict

MOST_ROWS = 200  # of a table; the bench page has 60
MOST_INSTRUMENTS = 100
MOST_REPEATS = 50  # of one reading
YEARS = (1850, 2200)  # of build
MOST_VAPORIZERS = 6
MOST_STD = 20  # kPa or K
FEATURE_STATES = ("fitted", "not fitted", "not known")
_CONTEXT = (
    "ambient_kpa_abs", "temperature_c", "built_year", "rated", "limits", "instruments", "features", "vaporizers",
    "ambient_std_kpa", "temperature_std_k", "assumed", "units", "oxygen", "ventilator",
)  # fmt: skip
_NUMBER = (int, float, type(None))
_LIMIT_TYPES = {
    **dict.fromkeys(("lower", "upper", "lower_si", "upper_si"), _NUMBER),
    **dict.fromkeys(("built_from", "built_before"), (int, type(None))),
    "strict": (bool,),
    "floor": (int, float),
}


def reading_to_dict(reading: Reading) -> dict:
    """Return {"value", "unit"} and, where given, "zero", "instrument" and "repeats"."""
    found = {"value": reading.value, "unit": reading.unit}
    if reading.zero is not None:
        found["zero"] = reading.zero.value
    if reading.instrument is not None:
        found["instrument"] = reading.instrument
    if reading.repeats:
        found["repeats"] = list(reading.repeats)
    return found


def reading_from_dict(data: Mapping, where: str) -> Reading:
    """Return a reading. Raises BenchError for a wrong shape, a value that is no number, or an unknown zero."""
    data = only(data, ("value", "unit", "zero", "instrument", "repeats"), where)
    value = data.get("value")
    if isinstance(value, bool):
        value = float(value)
    unit, zero, instrument = data.get("unit"), data.get("zero"), data.get("instrument")
    if not isinstance(unit, str):
        raise BenchError(f"{where}.unit", f"{where}: give the unit as text, got {shown(unit)}.")
    if zero is not None and zero not in tuple(Zero):
        raise BenchError(f"{where}.zero", f'{where}: zero is "gauge" or "absolute", got {shown(zero)}.')
    if instrument is not None and not isinstance(instrument, str):
        raise BenchError(f"{where}.instrument", f"{where}: give the code of the instrument as text.")
    repeats = listed_in(data.get("repeats") or (), f"{where}.repeats", MOST_REPEATS)
    return Reading(
        number(value, f"{where}.value"), unit, None if zero is None else Zero(zero), instrument,
        tuple(number(one, f"{where}.repeats") for one in repeats),
    )  # fmt: skip


def sheet_to_dict(sheet: Sheet) -> dict:
    """Return {"values", "tables", "choices"} that sheet_from_dict reads back."""
    return {
        "values": {key: reading_to_dict(reading) for key, reading in sheet.values.items()},
        "tables": {
            key: [{column: reading_to_dict(reading) for column, reading in row.items()} for row in rows]
            for key, rows in sheet.tables.items()
        },
        "choices": dict(sheet.choices),
    }


def sheet_from_dict(data: Mapping) -> Sheet:
    """Return a sheet from {"values", "tables", "choices"}, each of which may be left out."""
    values = mapping(data.get("values"), "values")
    tables = mapping(data.get("tables"), "tables")
    choices = mapping(data.get("choices"), "choices")
    for key, choice in choices.items():
        if not isinstance(choice, str):
            raise BenchError(f"choices.{key}", f"choices.{key}: a choice is text, got {shown(choice)}.")
    return Sheet(
        {key: reading_from_dict(one, f"values.{key}") for key, one in values.items() if one is not None},
        {key: tuple(_row(row, f"tables.{key}[{n}]") for n, row in enumerate(_rows(rows, key), start=1))
         for key, rows in tables.items()},
        dict(choices),
    )  # fmt: skip


def _rows(rows, key: str) -> list:
    return listed_in(rows, f"tables.{key}", MOST_ROWS)


def _row(row, where: str) -> dict[str, Reading]:
    return {
        column: reading_from_dict(one, f"{where}.{column}")
        for column, one in mapping(row, where).items()
        if one is not None
    }


def context_to_dict(context: Context) -> dict:
    """Return the context that context_from_dict reads back."""
    return {
        "ambient_kpa_abs": context.ambient_pa_abs / 1000,
        "temperature_c": context.temperature_k - 273.15,
        "built_year": context.built_year,
        "features": dict(context.features),
        "vaporizers": context.vaporizers,
        "ambient_std_kpa": context.ambient_std_pa / 1000,
        "temperature_std_k": context.temperature_std_k,
        "assumed": dict(context.assumed),
        "units": dict(context.units),
        **recorded_to_dict(context),
        "rated": dict(context.rated),
        "limits": {key: limit_to_dict(limit) for key, limit in context.limits.items()},
        "instruments": [instrument_to_dict(one) for one in context.instruments.values()],
    }


def context_from_dict(
    data: Mapping, *, test: Test | None = None, rule: str | Mapping[str, str] | None = None, instruments=()
) -> Context:
    """Return a context from an object with names of _CONTEXT, each of which may be left out.

    features     state of safety features of the machine by code: "fitted", "not fitted" or "not known"
    vaporizers   how many the machine has
    units        in which to show results, by dimension, such as {"pressure": "psi"}
    oxygen, ventilator  see serialise_recorded
    test, rule   rules to apply, a code, or codes by result key; needs the test
    instruments  more instruments, as dictionaries
    """
    data = mapping(data, "context")
    only(data, _CONTEXT, "context")
    ambient = number(data.get("ambient_kpa_abs", 101.325), "context.ambient_kpa_abs")
    celsius = number(data.get("temperature_c", 20.0), "context.temperature_c")
    refuse_use(ambient, "ambient-pressure", "context.ambient_kpa_abs", "context.ambient_kpa_abs", "kPa")
    refuse_use(celsius, "ambient-temperature", "context.temperature_c", "context.temperature_c", "°C")
    listed = [
        one
        for given, where in ((data.get("instruments"), "context.instruments"), (instruments, "instruments"))
        for one in listed_in(given or (), where, MOST_INSTRUMENTS)
    ]
    known = [instrument_from_dict(mapping(one, "instruments")) for one in listed]
    limits = {key: limit_from_dict(one) for key, one in mapping(data.get("limits"), "context.limits").items()}
    for key, one in limits.items():
        if test is not None:
            refuse_limit(test, key, one)
    if test is not None and rule:
        limits |= limits_by_rule(test, rule)
    rated = {key: number(one, f"context.rated.{key}") for key, one in mapping(data.get("rated"), "rated").items()}
    return Context(
        ambient * 1000, celsius + 273.15, rated, {one.code: one for one in known}, limits,
        _year(data.get("built_year")), _words(data.get("features"), "features", FEATURE_STATES),
        _count(data.get("vaporizers")), _std(data, "ambient_std_kpa", AMBIENT_STD_PA / 1000) * 1000,
        _std(data, "temperature_std_k", AMBIENT_STD_K), _words(data.get("assumed"), "assumed"),
        _units(data.get("units")), **recorded_from_dict(data),
    )  # fmt: skip


def _words(data, name: str, accepted: Sequence[str] = ()) -> dict[str, str]:
    words = mapping(data, f"context.{name}")
    for key, word in words.items():
        if not isinstance(word, str) or (accepted and word not in accepted):
            known = f" one of {', '.join(accepted)}" if accepted else " text"
            raise BenchError(f"context.{name}", f"context.{name}: {shown(key)} is{known}, got {shown(word)}.")
    return dict(words)


def _units(data) -> dict[str, str]:
    units = _words(data, "units")
    if problem := unit_choice_problem(units):
        raise BenchError("context.units", f"context.units: {problem}")
    return units


def _count(value) -> int | None:
    if value is None or (isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= MOST_VAPORIZERS):
        return value
    message = f"context.vaporizers: a whole number, 0 to {MOST_VAPORIZERS}, or null, got {shown(value)}."
    raise BenchError("context.vaporizers", message)


def _std(data: Mapping, key: str, default: float) -> float:
    std = number(data.get(key, default), f"context.{key}")
    if not 0 <= std <= MOST_STD:
        raise BenchError(f"context.{key}", f"context.{key}: accepted: 0 to {MOST_STD}.")
    return std


def _year(year) -> int | None:
    if year is None:
        return None
    if isinstance(year, bool) or not isinstance(year, int) or not YEARS[0] <= year <= YEARS[1]:
        first, last = YEARS
        message = f"context.built_year: a whole year, {first} to {last}, or null, got {shown(year)}."
        raise BenchError("context.built_year", message)
    return year


def limits_by_rule(test: Test, rule: str | Mapping[str, str]) -> dict[str, Limit]:
    """Return the test's limits named by rule, by result key. Raises BenchError for a rule it does not have."""
    if isinstance(rule, str):
        found = {one.key: one for one in test.default_limits if one.rule == rule}
        if not found:
            known = ", ".join(sorted({one.rule for one in test.default_limits})) or "none"
            raise BenchError("rule", f'The test {test.code} has no rule "{rule}". Its rules: {known}.')
        return found
    try:
        return {key: choose_limit(test.default_limits, key, rule=one) for key, one in mapping(rule, "rule").items()}
    except ValueError as error:
        raise BenchError("rule", str(error)) from None


def limit_to_dict(limit: Limit) -> dict:
    """Return every field of a limit, with the ends also in its unit."""
    shown = {
        end: None if value is None else from_si(value, limit.unit)
        for end, value in (("lower", limit.lower_si), ("upper", limit.upper_si))
    }
    return {**asdict(limit), **shown}


def limit_from_dict(data: Mapping) -> Limit:
    """Return a limit. "lower" and "upper", in its unit, count only where "lower_si" and "upper_si" are absent."""
    data = dict(mapping(data, "limits"))
    for key, value in data.items():
        accepted = _LIMIT_TYPES.get(key, (str,))
        if not isinstance(value, accepted) or (isinstance(value, bool) and bool not in accepted):
            raise BenchError("limits", f"limits: {key} cannot be {shown(value)}.")
    try:
        for end in ("lower", "upper"):
            value = data.pop(end, None)
            if f"{end}_si" not in data:
                si = None if value is None else to_si(number(value, f"limits.{end}"), data.get("unit", ""))
                data[f"{end}_si"] = si
        return Limit(**data)
    except BenchError:
        raise
    except (TypeError, ValueError) as error:
        raise BenchError("limits", f"limits: {error}") from None


def result_to_dict(result: Result) -> dict:
    """Return a result in its display unit, with the SI numbers beside. One not measured has no value: null."""
    limit = result.limit
    return {
        "key": result.key,
        "label": result.label,
        "value": None if result.value_si is None else from_si(result.value_si, result.unit),
        "unit": result.unit,
        "expanded_uncertainty": interval_from_si(result.expanded_uncertainty_si, result.unit),
        "coverage_factor": result.coverage_factor,
        "dof": None if isinf(result.dof) else result.dof,
        "limit": None if limit is None else limit_to_dict(limit),
        "rule": None if limit is None else limit.rule,
        "source": None if limit is None else limit.source,
        "edition": None if limit is None else limit.edition,
        "decision": None if result.decision is None else result.decision.value,
        "margin": None if result.margin_si is None else interval_from_si(result.margin_si, result.unit),
        "probability": result.probability,
        "convention": result.convention,
        "remark": result.remark,
        "reason": result.reason,
        "why": result.why,
        "sufficient_uncertainty_si": result.sufficient_uncertainty_si,
        "value_si": result.value_si,
        "std_uncertainty_si": result.std_uncertainty_si,
        "expanded_uncertainty_si": result.expanded_uncertainty_si,
        "margin_si": result.margin_si,
        "si_unit": SI_UNITS[dimension_of(result.unit)],
        **({"unit_chosen": True} if result.unit_chosen else {}),
    }


def result_from_dict(data: Mapping) -> Result:
    """Return the result that result_to_dict was given, from its SI numbers; older ones lack the later fields."""
    found = {
        field.name: data[field.name] if field.default is MISSING else data.get(field.name, field.default)
        for field in fields(Result)
    }
    found["dof"] = inf if data["dof"] is None else data["dof"]
    found["limit"] = None if data["limit"] is None else limit_from_dict(data["limit"])
    found["decision"] = None if data["decision"] is None else Decision(data["decision"])
    return Result(**found)


def evaluation_to_dict(evaluation: Evaluation) -> dict:
    """Return {"outcomes", "curves", "remarks", "missing", "assumed", "not_judged"}."""
    return {
        "outcomes": [result_to_dict(result) for result in evaluation.results],
        "curves": [_curve_to_dict(curve) for curve in evaluation.curves],
        "remarks": list(evaluation.remarks),
        "missing": list(evaluation.missing),
        "assumed": list(evaluation.assumed),
        "not_judged": [asdict(one) for one in evaluation.not_judged],
    }


def evaluation_from_dict(data: Mapping) -> Evaluation:
    """Return the evaluation that evaluation_to_dict was given: a frozen record reads back as it was."""
    return Evaluation(
        tuple(result_from_dict(one) for one in data["outcomes"]),
        tuple(_curve_from_dict(one) for one in data["curves"]),
        tuple(data["remarks"]),
        tuple(data["missing"]),
        tuple(data.get("assumed", ())),
        tuple(NotJudged(**one) for one in data.get("not_judged", ())),
    )


def _curve_to_dict(curve: Curve) -> dict:
    """Return a curve as records hold it: whether units were chosen is said only where they were."""
    data = _listed(asdict(curve))
    return data if data.pop("units_chosen") is False else {**data, "units_chosen": True}


def _curve_from_dict(data: Mapping) -> Curve:
    series = tuple(
        Series(one["label"], tuple(tuple(point) for point in one["points"]), one["style"]) for one in data["series"]
    )
    marks = tuple(Mark(**one) for one in data["marks"])
    return Curve(**{**data, "series": series, "marks": marks})


def test_to_dict(test: Test) -> dict:
    """Return the whole declaration of a test: what to read, what comes of it, by which limits."""
    return {
        **{key: getattr(test, key) for key in ("code", "family", "title", "purpose", "source")},
        "cautions": list(test.cautions),
        "readings": [_spec_to_dict(spec) for spec in test.readings],
        "tables": [
            {**_listed(asdict(table)), "columns": [_spec_to_dict(spec) for spec in table.columns]}
            for table in test.tables
        ],
        "choices": [_listed(asdict(choice)) for choice in test.choices],
        "rated": list(test.rated),
        "outcomes": [_result_spec_to_dict(spec) for spec in test.results],
        "limits": [limit_to_dict(limit) for limit in test.default_limits],
    }


def _result_spec_to_dict(spec: ResultSpec) -> dict:
    return {
        "key": spec.key,
        "label": spec.label,
        "dimension": spec.dimension.value,
        "unit": spec.unit,
        "convention": spec.convention,
        "challenge": spec.challenge.statement,
        "unjudged": spec.unjudged,
    }


def _spec_to_dict(spec: ReadingSpec) -> dict:
    return {
        **_listed(asdict(spec)),
        "dimension": spec.dimension.value,
        "zero": None if spec.zero is None else spec.zero.value,
        "units": list(spec.units),
        "judges": list(spec.judges),
    }


def _listed(value):
    """Return a value with every tuple as a list, as JSON would give it back."""
    if isinstance(value, dict):
        return {key: _listed(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_listed(one) for one in value]
    return value
