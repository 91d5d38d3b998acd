"""One reading in SI: its value, what cannot be read, its scatter, its resolution and the scale that it was read on."""

from dataclasses import replace

from fleet.catalogue.plausibility import reading_problem

from .declarations import Context, ReadingSpec
from .errors import BenchError
from .instruments import Instrument, Scale
from .propagation import Measured
from .quantities import Dimension, from_si, to_si
from .readings import Reading
from .uncertainty import RECTANGULAR, from_repeats


def scatter(spec: ReadingSpec, reading: Reading, value: float, where: str, place: str, context: Context) -> Measured:
    """Return the mean of a reading and its repeats, with what their scatter leaves uncertain."""
    if not reading.repeats:
        return Measured(value)
    others = [in_si(spec, replace(reading, value=one), where, place, context) for one in reading.repeats]
    mean = from_repeats([value, *others])
    return Measured(mean.value, repeat_std=mean.std_uncertainty, repeat_dof=mean.dof)


def as_resolved(found: Measured, scale: Scale) -> Measured:
    """Return a reading with its resolution, unless repeats scatter over more than half a step: they show it then."""
    single_std = found.repeat_std * (found.repeat_dof + 1) ** 0.5 if found.repeat_std else 0.0
    if single_std > scale.resolution_si / 2:
        return found
    return replace(found, own_std=scale.resolution_std(), own_excess=RECTANGULAR)


def in_si(spec: ReadingSpec, reading: Reading, where: str, place: str, context: Context) -> float:
    """Return the value of a reading in SI. Raises BenchError for one that cannot be."""
    if reading.unit not in spec.units:
        accepted = ", ".join(spec.units)
        raise BenchError(where, f'{place}{spec.label}: the unit "{reading.unit}" does not fit. Accepted: {accepted}.')
    zero = reading.zero or spec.zero
    try:
        value = to_si(reading.value, reading.unit, zero=zero, ambient_pa_abs=context.ambient_pa_abs)
    except ValueError as error:
        raise BenchError(where, f"{place}{spec.label}: {error}") from None
    _refuse_impossible(spec, reading, value, where, place, context)
    if problem := reading_problem(reading.value, reading.unit):
        raise BenchError(where, f"{place}{spec.label}: {problem.of(f'{reading.value:g} {reading.unit}')}")
    return value


def _refuse_impossible(
    spec: ReadingSpec, reading: Reading, value: float, where: str, place: str, context: Context
) -> None:
    shown = f"{place}{spec.label}: {reading.value:g} {reading.unit}"
    if not spec.dimension.entry.may_be_negative and value < 0:
        name = spec.dimension.value
        raise BenchError(
            where, f"{shown} is below zero. A {name} is zero or more; enter 0 for a reading that fluctuates around 0."
        )
    if spec.dimension is Dimension.FRACTION and value > 1:
        raise BenchError(where, f"{shown} is above 100 %. A fraction is 0 to 100 %; check the reading.")
    if spec.dimension is Dimension.PRESSURE and value < -context.ambient_pa_abs * (1 + 1e-12):
        lowest = from_si(-context.ambient_pa_abs, reading.unit)
        message = f"{shown} gauge is below a perfect vacuum ({lowest:.4g} {reading.unit}). Check sign, unit and zero."
        raise BenchError(where, message)


def scale_for(
    instrument: Instrument, spec: ReadingSpec, reading: Reading, value: float, where: str, place: str
) -> tuple[int, Scale]:
    """Return the smallest scale that holds the reading, with its number. Raises BenchError if none does."""
    scales = instrument.scales_for(spec.dimension)
    if not scales:
        raise BenchError(
            where, f"{place}{spec.label}: instrument {instrument.code} has no scale for {spec.dimension.value}."
        )
    for number, scale in enumerate(scales):
        if scale.holds(value):
            return number, scale
    low, high = min(scale.low_si for scale in scales), max(scale.high_si for scale in scales)
    side = "above" if value > high else "below" if value < low else "between the scales within"
    unit = reading.unit
    raise BenchError(
        where,
        f"{place}{spec.label}: {from_si(value, unit):g} {unit} is {side} the range of instrument {instrument.code} "
        f"({from_si(low, unit):.6g} to {from_si(high, unit):.6g} {unit}). Check the unit.",
    )
