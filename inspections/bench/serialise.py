"""Plain dictionaries, fit for JSON, of sheets, contexts, limits, evaluations and tests.

Numbers that are infinite become null. What comes in is checked; BenchError says where it is wrong.
"""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, fields
from math import inf, isfinite, isinf

from .decisions import Decision
from .declarations import Context, ReadingSpec, Test
from .errors import BenchError
from .guard import refuse_limit, refuse_use
from .instruments import Accuracy, Instrument, Scale
from .json_text import shown
from .limits import Limit, choose_limit
from .quantities import SI_UNITS, Dimension, Zero, dimension_of, from_si, interval_from_si, si_factor, to_si
from .readings import Reading, Sheet
from .results import Curve, Evaluation, Mark, Result, Series

MOST_ROWS = 200  # of a table; the bench page has 60
MOST_INSTRUMENTS = 100
MOST_SCALES = 50
YEARS = (1850, 2200)  # of build
_NUMBER = (int, float, type(None))
_LIMIT_TYPES = {
    **dict.fromkeys(("lower", "upper", "lower_si", "upper_si"), _NUMBER),
    **dict.fromkeys(("built_from", "built_before"), (int, type(None))),
    "strict": (bool,),
}


def reading_to_dict(reading: Reading) -> dict:
    """Return {"value", "unit"} and, where given, "zero" and "instrument"."""
    found = {"value": reading.value, "unit": reading.unit}
    if reading.zero is not None:
        found["zero"] = reading.zero.value
    if reading.instrument is not None:
        found["instrument"] = reading.instrument
    return found


def reading_from_dict(data: Mapping, where: str) -> Reading:
    """Return a reading. Raises BenchError for a wrong shape, a value that is no number, or an unknown zero."""
    data = _only(data, ("value", "unit", "zero", "instrument"), where)
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
    return Reading(_number(value, f"{where}.value"), unit, None if zero is None else Zero(zero), instrument)


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
    values = _mapping(data.get("values"), "values")
    tables = _mapping(data.get("tables"), "tables")
    choices = _mapping(data.get("choices"), "choices")
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
    return _listed_in(rows, f"tables.{key}", MOST_ROWS)


def _row(row, where: str) -> dict[str, Reading]:
    return {
        column: reading_from_dict(one, f"{where}.{column}")
        for column, one in _mapping(row, where).items()
        if one is not None
    }


def instrument_to_dict(instrument: Instrument) -> dict:
    """Return an instrument with its scales in SI (unit null)."""
    return {
        "code": instrument.code,
        "name": instrument.name,
        "scales": [_scale_to_dict(scale) for scale in instrument.scales],
    }


def _scale_to_dict(scale: Scale) -> dict:
    accuracy = scale.accuracy
    return {
        "dimension": scale.dimension.value,
        "unit": None,
        "low": scale.low_si,
        "high": scale.high_si,
        "resolution": scale.resolution_si,
        "accuracy": {
            "of_reading": accuracy.of_reading,
            "of_span": accuracy.of_span,
            "absolute": accuracy.absolute_si,
            "coverage_factor": accuracy.coverage_factor,
        },
    }


def instrument_from_dict(data: Mapping, where: str = "instruments") -> Instrument:
    """Return an instrument.

    data  {"code", "name", "scales": [{"unit", "low", "high", "resolution", "accuracy": {"of_reading", "of_span",
          "absolute", "coverage_factor"}}]}; numbers of a scale in its unit, or in SI with unit null and a
          "dimension"; of_reading and of_span are fractions (0.01 is 1 %); coverage_factor 0 means limits
    """
    data = _only(data, ("code", "name", "scales"), where)
    code, name = data.get("code"), data.get("name") or data.get("code")
    if not isinstance(code, str) or not code or not isinstance(name, str):
        raise BenchError(f"{where}.code", f"{where}: give the instrument's code and name as text.")
    given = _listed_in(data.get("scales") or (), f"{where}.{code}.scales", MOST_SCALES)
    scales = [_scale_from_dict(one, f"{where}.{code}.scales[{n}]") for n, one in enumerate(given, 1)]
    return Instrument(code, name, tuple(scales))


def _scale_from_dict(data, where: str) -> Scale:
    data = _only(data, ("dimension", "unit", "low", "high", "resolution", "accuracy"), where)
    for key in ("dimension", "unit"):
        if data.get(key) is not None and not isinstance(data[key], str):
            raise BenchError(f"{where}.{key}", f"{where}: give the {key} as text, got {shown(data[key])}.")
    unit, low, high = data.get("unit"), _number(data.get("low", 0), where), _number(data.get("high"), where)
    step = _number(data.get("resolution", 0), where)
    accuracy = _mapping(data.get("accuracy"), f"{where}.accuracy")
    _only(accuracy, ("of_reading", "of_span", "absolute", "coverage_factor"), f"{where}.accuracy")
    parts = {key: _number(value, f"{where}.accuracy.{key}") for key, value in accuracy.items()}
    try:
        dimension = Dimension(data.get("dimension")) if unit is None else dimension_of(unit)
        factor = 1.0 if unit is None else si_factor(unit)
        ends = (low, high) if unit is None else (to_si(low, unit), to_si(high, unit))
        absolute, k = parts.get("absolute", 0.0) * factor, parts.get("coverage_factor", 2.0)
        exact = Accuracy(parts.get("of_reading", 0.0), parts.get("of_span", 0.0), absolute, k)
        return Scale(dimension, *ends, step * factor, exact)
    except ValueError as error:
        raise BenchError(where, f"{where}: {error}") from None


def context_to_dict(context: Context) -> dict:
    """Return the context that context_from_dict reads back."""
    return {
        "ambient_kpa_abs": context.ambient_pa_abs / 1000,
        "temperature_c": context.temperature_k - 273.15,
        "built_year": context.built_year,
        "rated": dict(context.rated),
        "limits": {key: limit_to_dict(limit) for key, limit in context.limits.items()},
        "instruments": [instrument_to_dict(one) for one in context.instruments.values()],
    }


def context_from_dict(
    data: Mapping, *, test: Test | None = None, rule: str | Mapping[str, str] | None = None, instruments=()
) -> Context:
    """Return a context from {"ambient_kpa_abs", "temperature_c", "built_year", "rated", "limits", "instruments"}.

    test, rule   rules to apply, a code, or codes by result key; needs the test
    instruments  more instruments, as dictionaries
    """
    data = _mapping(data, "context")
    _only(data, ("ambient_kpa_abs", "temperature_c", "built_year", "rated", "limits", "instruments"), "context")
    ambient = _number(data.get("ambient_kpa_abs", 101.325), "context.ambient_kpa_abs")
    celsius = _number(data.get("temperature_c", 20.0), "context.temperature_c")
    refuse_use(ambient, "ambient-pressure", "context.ambient_kpa_abs", "context.ambient_kpa_abs", "kPa")
    refuse_use(celsius, "ambient-temperature", "context.temperature_c", "context.temperature_c", "°C")
    listed = [
        one
        for given, where in ((data.get("instruments"), "context.instruments"), (instruments, "instruments"))
        for one in _listed_in(given or (), where, MOST_INSTRUMENTS)
    ]
    known = [instrument_from_dict(_mapping(one, "instruments")) for one in listed]
    limits = {key: limit_from_dict(one) for key, one in _mapping(data.get("limits"), "context.limits").items()}
    for key, one in limits.items():
        if test is not None:
            refuse_limit(test, key, one)
    if test is not None and rule:
        limits |= limits_by_rule(test, rule)
    rated = {key: _number(one, f"context.rated.{key}") for key, one in _mapping(data.get("rated"), "rated").items()}
    return Context(
        ambient * 1000, celsius + 273.15, rated, {one.code: one for one in known}, limits, _year(data.get("built_year"))
    )


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
        return {key: choose_limit(test.default_limits, key, rule=one) for key, one in _mapping(rule, "rule").items()}
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
    data = dict(_mapping(data, "limits"))
    for key, value in data.items():
        accepted = _LIMIT_TYPES.get(key, (str,))
        if not isinstance(value, accepted) or (isinstance(value, bool) and bool not in accepted):
            raise BenchError("limits", f"limits: {key} cannot be {shown(value)}.")
    try:
        for end in ("lower", "upper"):
            value = data.pop(end, None)
            if f"{end}_si" not in data:
                si = None if value is None else to_si(_number(value, f"limits.{end}"), data.get("unit", ""))
                data[f"{end}_si"] = si
        return Limit(**data)
    except BenchError:
        raise
    except (TypeError, ValueError) as error:
        raise BenchError("limits", f"limits: {error}") from None


def result_to_dict(result: Result) -> dict:
    """Return a result in its display unit, with the SI numbers beside."""
    limit = result.limit
    return {
        "key": result.key,
        "label": result.label,
        "value": from_si(result.value_si, result.unit),
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
        "value_si": result.value_si,
        "std_uncertainty_si": result.std_uncertainty_si,
        "expanded_uncertainty_si": result.expanded_uncertainty_si,
        "margin_si": result.margin_si,
        "si_unit": SI_UNITS[dimension_of(result.unit)],
    }


def result_from_dict(data: Mapping) -> Result:
    """Return the result that result_to_dict was given, from its SI numbers."""
    found = {field.name: data[field.name] for field in fields(Result)}
    found["dof"] = inf if data["dof"] is None else data["dof"]
    found["limit"] = None if data["limit"] is None else limit_from_dict(data["limit"])
    found["decision"] = None if data["decision"] is None else Decision(data["decision"])
    return Result(**found)


def evaluation_to_dict(evaluation: Evaluation) -> dict:
    """Return {"outcomes", "curves", "remarks", "missing"}."""
    return {
        "outcomes": [result_to_dict(result) for result in evaluation.results],
        "curves": [_listed(asdict(curve)) for curve in evaluation.curves],
        "remarks": list(evaluation.remarks),
        "missing": list(evaluation.missing),
    }


def evaluation_from_dict(data: Mapping) -> Evaluation:
    """Return the evaluation that evaluation_to_dict was given: a frozen record reads back as it was."""
    return Evaluation(
        tuple(result_from_dict(one) for one in data["outcomes"]),
        tuple(_curve_from_dict(one) for one in data["curves"]),
        tuple(data["remarks"]),
        tuple(data["missing"]),
    )


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
        "outcomes": [{**asdict(spec), "dimension": spec.dimension.value} for spec in test.results],
        "limits": [limit_to_dict(limit) for limit in test.default_limits],
    }


def _spec_to_dict(spec: ReadingSpec) -> dict:
    return {
        **asdict(spec),
        "dimension": spec.dimension.value,
        "zero": None if spec.zero is None else spec.zero.value,
        "units": list(spec.units),
    }


def _listed(value):
    """Return a value with every tuple as a list, as JSON would give it back."""
    if isinstance(value, dict):
        return {key: _listed(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_listed(one) for one in value]
    return value


def _mapping(value, where: str) -> Mapping:
    if value is None:
        return {}
    if not isinstance(value, Mapping):
        raise BenchError(where, f"{where}: give an object of names and values, got {shown(value)}.")
    return value


def _only(data, known: tuple[str, ...], where: str) -> Mapping:
    data = _mapping(data, where)
    for key in data:
        if key not in known:
            raise BenchError(f"{where}.{key}", f'{where}: "{key}" is not known here. Known: {", ".join(known)}.')
    return data


def _listed_in(value, where: str, most: int) -> Sequence:
    if not isinstance(value, list | tuple):
        raise BenchError(where, f"{where}: give a list, got {shown(value)}.")
    if len(value) > most:
        raise BenchError(where, f"{where}: holds {len(value)} entries; accepted: {most} at most.")
    return value


def _number(value, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise BenchError(where, f"{where}: give a number, got {shown(value)}.")
    try:
        number = float(value)
    except OverflowError:
        number = inf
    if isfinite(number):
        return number
    raise BenchError(where, f"{where}: {shown(value)} is not a number that can be used. Give a finite number.")
