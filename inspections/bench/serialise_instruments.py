"""Instruments as plain dictionaries, fit for JSON."""

from collections.abc import Mapping

from .corrections import correction_from_dict, correction_to_dict
from .errors import BenchError
from .instruments import Accuracy, Instrument, Scale
from .json_shapes import listed_in, mapping, number, only
from .json_text import shown
from .quantities import Dimension, dimension_of, si_factor, to_si

MOST_SCALES = 50


def instrument_to_dict(instrument: Instrument) -> dict:
    """Return an instrument with its scales in SI (unit null)."""
    return {
        "code": instrument.code,
        "name": instrument.name,
        "scales": [_scale_to_dict(scale) for scale in instrument.scales],
    }


def _scale_to_dict(scale: Scale) -> dict:
    accuracy = scale.accuracy
    corrected = {"correction": correction_to_dict(scale.correction)} if scale.correction else {}
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
        **corrected,
    }


def instrument_from_dict(data: Mapping, where: str = "instruments") -> Instrument:
    """Return an instrument.

    data  {"code", "name", "scales": [{"unit", "low", "high", "resolution", "accuracy": {"of_reading", "of_span",
          "absolute", "coverage_factor"}, "correction": as correction_to_dict gives it, or left out}]}; numbers of a
          scale in its unit, or in SI with unit null and a "dimension"; of_reading and of_span are fractions (0.01 is
          1 %); coverage_factor 0 means limits
    """
    data = only(data, ("code", "name", "scales"), where)
    code, name = data.get("code"), data.get("name") or data.get("code")
    if not isinstance(code, str) or not code or not isinstance(name, str):
        raise BenchError(f"{where}.code", f"{where}: give the instrument's code and name as text.")
    given = listed_in(data.get("scales") or (), f"{where}.{code}.scales", MOST_SCALES)
    scales = [_scale_from_dict(one, f"{where}.{code}.scales[{n}]") for n, one in enumerate(given, 1)]
    return Instrument(code, name, tuple(scales))


def _scale_from_dict(data, where: str) -> Scale:
    data = only(data, ("dimension", "unit", "low", "high", "resolution", "accuracy", "correction"), where)
    for key in ("dimension", "unit"):
        if data.get(key) is not None and not isinstance(data[key], str):
            raise BenchError(f"{where}.{key}", f"{where}: give the {key} as text, got {shown(data[key])}.")
    unit, low, high = data.get("unit"), number(data.get("low", 0), where), number(data.get("high"), where)
    step = number(data.get("resolution", 0), where)
    accuracy = mapping(data.get("accuracy"), f"{where}.accuracy")
    only(accuracy, ("of_reading", "of_span", "absolute", "coverage_factor"), f"{where}.accuracy")
    parts = {key: number(value, f"{where}.accuracy.{key}") for key, value in accuracy.items()}
    try:
        dimension = Dimension(data.get("dimension")) if unit is None else dimension_of(unit)
        factor = 1.0 if unit is None else si_factor(unit)
        ends = (low, high) if unit is None else (to_si(low, unit), to_si(high, unit))
        absolute, k = parts.get("absolute", 0.0) * factor, parts.get("coverage_factor", 2.0)
        exact = Accuracy(parts.get("of_reading", 0.0), parts.get("of_span", 0.0), absolute, k)
        given = data.get("correction")
        correction = None if given is None else correction_from_dict(given, f"{where}.correction")
        return Scale(dimension, *ends, step * factor, exact, correction)
    except ValueError as error:
        raise BenchError(where, f"{where}: {error}") from None
