"""Sheets, instruments and contexts for the bench tests, filled in but for what a test is about."""

from dataclasses import replace

from inspections.bench import (
    Accuracy,
    Context,
    Dimension,
    Instrument,
    Limit,
    Reading,
    Scale,
    Sheet,
    Zero,
    from_si,
    get_test,
    to_si,
)

FLOW_UNIT_SI = to_si(1, "L/min")


def gauge(code="G", top_psi=100.0, step_psi=0.1, of_span=0.0025, of_reading=0.0):
    accuracy = Accuracy(of_span=of_span, of_reading=of_reading)
    scale = Scale(Dimension.PRESSURE, 0.0, to_si(top_psi, "psi"), to_si(step_psi, "psi"), accuracy)
    return Instrument(code, "gauge", (scale,))


def flowmeter(code="F", top=100.0, step=0.01, of_reading=0.02):
    scale = Scale(Dimension.FLOW, 0.0, top * FLOW_UNIT_SI, step * FLOW_UNIT_SI, Accuracy(of_reading=of_reading))
    return Instrument(code, "flowmeter", (scale,))


def context(*instruments, **more):
    return Context(instruments={one.code: one for one in instruments}, **more)


def pressure(value, unit="psi", instrument=None, zero=Zero.GAUGE):
    return Reading(value, unit, zero, instrument)


def flow(value, unit="L/min", instrument=None):
    return Reading(value, unit, None, instrument)


def rows(columns, *values):
    """Rows from (column key -> how to make a reading of it) and tuples of numbers; None leaves a cell empty."""
    return tuple(
        {key: make(value) for (key, make), value in zip(columns.items(), row, strict=True) if value is not None}
        for row in values
    )


def sheet(values=None, tables=None, **choices):
    return Sheet(values or {}, tables or {}, choices)


def limit(lower=None, upper=None, key="k", unit="kPa", **more):
    return Limit(key, "own", "own", lower, upper, unit, "own", "1", "local", **more)


class Exact:
    """An instrument for tests of arithmetic: it reads everything without error."""

    code, name = "EXACT", "exact"
    resolution_si, accuracy, correction = 0.0, Accuracy(absolute_si=5e-324), None

    def scales_for(self, dimension):
        return (self,)

    def holds(self, value):
        return True

    def accuracy_std(self, value):
        return 0.0

    resolution_std = staticmethod(lambda: 0.0)


def evaluate(code, given, surroundings=None, *, unnamed=False):
    """What a test makes of a sheet; a reading that names no instrument is exact, unless `unnamed` keeps it as it is."""
    surroundings = surroundings or Context()
    if not unnamed:
        given = Sheet(
            {key: _named(one) for key, one in given.values.items()},
            {key: tuple({name: _named(one) for name, one in row.items()} for row in rows)
             for key, rows in given.tables.items()},
            given.choices,
        )  # fmt: skip
        surroundings = replace(surroundings, instruments={**surroundings.instruments, "EXACT": Exact()})
    return get_test(code).evaluate(given, surroundings)


def _named(reading):
    is_answer = reading is None or reading.unit == "yes/no"
    return reading if is_answer or reading.instrument else replace(reading, instrument="EXACT")


def without_valve(*instruments, **more):
    """The context of a machine without outlet check valve and vaporizers: positive pressure shows every leak."""
    return context(*instruments, features={"outlet-check-valve": "not fitted"}, vaporizers=0, **more)


def shown(evaluation, key):
    """The value of a result in its unit."""
    result = evaluation.result(key)
    return from_si(result.value_si, result.unit)


ABSURD = {
    Dimension.PRESSURE: [flow(1e-3, "psi"), flow(4000, "psi")],
    Dimension.FLOW: [flow(0, "L/min"), flow(900, "L/min")],
    Dimension.FRACTION: [flow(0, "%"), flow(6, "%"), flow(94, "%"), flow(100, "%")],
    Dimension.TIME: [flow(1e-3, "s"), flow(20_000, "min")],
    Dimension.TEMPERATURE: [flow(-90, "°C"), flow(90, "°C")],
    Dimension.VOLUME: [flow(1e-3, "mL"), flow(90, "L")],
    Dimension.COMPLIANCE: [flow(0, "mL/kPa"), flow(90_000, "mL/kPa")],
    Dimension.OBSERVATION: [flow(0, "yes/no"), flow(1, "yes/no")], Dimension.MASS: [flow(0, "kg"), flow(900, "kg")],
    Dimension.RESISTANCE: [flow(0, "Ω"), flow(900, "GΩ")], Dimension.VOLTAGE: [flow(1, "V"), flow(40, "kV")],
    Dimension.CURRENT: [flow(1, "µA"), flow(900, "A")], Dimension.RATE: [flow(0.1, "1/min"), flow(900, "1/min")],
    Dimension.FORCE: [flow(0, "N"), flow(90, "kN")], Dimension.LENGTH: [flow(0, "mm"), flow(90, "m")],
    Dimension.ENERGY: [flow(1, "J"), flow(90, "kJ")], Dimension.POSITION: [flow(1, "no."), flow(19, "no.")],
}  # fmt: skip
"""By dimension: readings that no sound machine gives."""
