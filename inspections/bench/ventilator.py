"""The ventilator: delivered volume, rate, pressure and PEEP against a reference.

What reaches the patient end is not what was set where the machine lets its fresh gas join the breath and where its
hoses take gas up. Both are worked out (breaths.py), so that the error of the machine itself is judged apart.
"""

from dataclasses import replace

from .breaths import Breath, read_breaths, read_rates
from .challenges import Challenge, NoChallenge, Reason, Unmet, first_unmet
from .declarations import ChoiceSpec, Context, ResultSpec, TableSpec, Test
from .errors import BenchError
from .impossible import NeverAbove
from .limits import COMMON_PRACTICE, FROM_MEMORY, SEEN, Limit
from .measuring import Bench
from .pictures import points
from .propagation import Measured, difference
from .quantities import Dimension, from_si, to_si
from .readings import Sheet
from .results import Curve, Evaluation, Result, Series
from .specs import NEVER_ON_A_PATIENT, limit, reading, with_option
from .strictest import gravest
from .uncertainty import Estimate

VOLUME_SHARE = 0.2  # of the set volume, and of the set minute volume
LEAST_VOLUME = to_si(100, "mL")
LEAST_MINUTE_VOLUME = to_si(1, "L/min")
RATE_SHARE = 0.1  # of the set rate
FRESH_GAS_SHARE = 0.25
"""Part of the tolerance beyond which fresh gas leaves a volume as read unjudged. Common practice, no source."""
LEAST_LOAD = to_si(10, "cmH2O")
"""Rise of pressure above PEEP without which a breath was not driven into a lung. Common practice, no source."""
CLOSELY = 0.99  # of a pressure that is set by hand


def evaluate_ventilator(sheet: Sheet, context: Context) -> Evaluation:
    """Return what the readings say of volume, rate, PEEP and pressure display. Raises BenchError (see Test)."""
    bench = Bench(VENTILATOR, sheet, context)
    breaths = read_breaths(bench)
    results = [*_volumes(bench, breaths), *_rate(bench), *_peep(bench), *_display(bench)]
    return bench.finish(results, _curve(bench, breaths))


def volume_limit(key: str, set_to: float, unit: str) -> Limit:
    """Return the limit of error of a delivered volume (or minute volume), at its setting in SI."""
    band = VOLUME_SHARE * from_si(set_to, unit)
    return limit(
        key, "volume-20", "Within 20 % of the set value", (-band, band), unit,
        "provincial calibration specification for anaesthesia machines JJF(Lu) 168-2023, section 5 (excerpt)",
        "JJF(Lu) 168-2023", SEEN, note="IEC 60601-2-13 gives the same figure for volume displays, from memory.",
    )  # fmt: skip


def display_limit(reference: float, full_scale: float, key: str = "pressure_error") -> Limit:
    """Return the limit of error of an airway pressure display, taken at the reference; all in Pa."""
    band = 0.04 * (from_si(full_scale, "cmH2O") + abs(from_si(reference, "cmH2O")))
    return limit(
        key, "iec60601-2-13-pressure", "4 % of full scale + 4 % of reading", (-band, band), "cmH2O",
        "IEC 60601-2-13", "IEC 60601-2-13", FROM_MEMORY,
    )  # fmt: skip


def peep_limit(set_to: float) -> Limit:
    """Return the limit of error of PEEP at its setting, Pa."""
    band = 2 + 0.04 * abs(from_si(set_to, "cmH2O"))
    return limit(
        "peep_error", "peep-2-4", "2 cmH2O + 4 % of the set value", (-band, band), "cmH2O",
        "common practice, no source", "-", COMMON_PRACTICE,
        note="The figures are those of ISO 80601-2-12 for displays of airway pressure, from memory.",
    )  # fmt: skip


def rate_limit(set_to: float) -> Limit:
    """Return the limit of error of the rate at its setting, 1/s."""
    band = RATE_SHARE * from_si(set_to, "1/min")
    return limit(
        "rate_error", "rate-10", "Within 10 % of the set rate", (-band, band), "1/min", "common practice, no source",
        "-", COMMON_PRACTICE,
    )  # fmt: skip


_TOO_SMALL = "The rule applies to set volumes above 100 mL; no such volume was set."
_TOO_LITTLE = "The rule applies to minute volumes above 1 L/min; no such minute volume was set."


def _judged(breaths: list[Breath]) -> list[Breath]:
    return [one for one in breaths if one.set.value > LEAST_VOLUME * (1 + 1e-9)]


def _volumes(bench: Bench, breaths: list[Breath]) -> list[Result]:
    if not breaths:
        return []
    judged = _judged(breaths)
    unjudged, volumes = "" if judged else _TOO_SMALL, judged or breaths
    largest = volumes[-1]
    bench.remarks.append(_explained(largest))
    return [
        _of_volume(bench, "volume_error", [(one, one.error) for one in volumes], unjudged),
        _of_volume(bench, "own_error", [(one, one.own_error) for one in volumes], unjudged),
        _minute_volume(bench, breaths),
        _as_volumes_are_read(bench, bench.result("fresh_gas_added", largest.added, remark=_row(largest))),
        _as_volumes_are_read(bench, bench.result("hose_loss", largest.lost, remark=_row(largest))),
    ]


def _of_volume(bench: Bench, key: str, errors: list[tuple[Breath, Estimate]], unjudged: str) -> Result:
    """Return the error of the gravest row; a limit set for the machine wins over that of the setting."""
    own = bench.context.limits.get(key)
    limits = [own or volume_limit(key, breath.set.value, "mL") for breath, _ in errors]
    judged = [(error, allowed) for (_, error), allowed in zip(errors, limits, strict=True)]
    breath, error = errors[gravest(bench.test.result_spec(key), judged)]
    share = error.value / breath.set.value
    result = bench.result(
        key, error, limit=volume_limit(key, breath.set.value, "mL"), unjudged=unjudged,
        remark=f"{_row(breath)} {share:+.1%} of the set volume.", convention=_convention(bench, key),
    )  # fmt: skip
    return _as_volumes_are_read(bench, result)


def _as_volumes_are_read(bench: Bench, result: Result) -> Result:
    """Return a result in the unit of the measured volumes, whatever the hoses were measured in."""
    return replace(result, unit=bench.unit("volumes", "measured"))


def _minute_volume(bench: Bench, breaths: list[Breath]) -> Result:
    judged = [one for one in breaths if one.set.value * one.rate_set.value > LEAST_MINUTE_VOLUME * (1 + 1e-9)]
    key, volumes = "minute_volume_error", judged or breaths
    own = bench.context.limits.get(key)
    errors = [
        (one.minute_error, own or volume_limit(key, one.set.value * one.rate_set.value, "L/min")) for one in volumes
    ]
    number = gravest(bench.test.result_spec(key), errors)
    return bench.result(
        key, errors[number][0], limit=errors[number][1], unjudged="" if judged else _TOO_LITTLE,
        remark=_row(volumes[number]), convention=_convention(bench, key),
    )  # fmt: skip


def _convention(bench: Bench, key: str) -> str:
    spec = bench.test.result_spec(key)
    return f"{spec.convention}; {_CONDITIONS[bench.choice('conditions')]}"


def _row(breath: Breath) -> str:
    return f"Row {breath.number}, {_ml(breath.set.value)} set."


def _explained(breath: Breath) -> str:
    """Return in a sentence what a sound machine would read, and why."""
    share = breath.expected / breath.set.value - 1
    return (
        f"Row {breath.number}: fresh gas adds {_ml(breath.added.value)} to the set {_ml(breath.set.value)}, the hoses "
        f"take up {_ml(breath.lost.value)}: a sound machine delivers {_ml(breath.expected)}, {share:+.0%}."
    )


def _ml(volume: float) -> str:
    return f"{from_si(volume, 'mL'):.0f} mL"


def _rate(bench: Bench) -> list[Result]:
    rate, set_to = read_rates(bench, needed=False)
    if rate is None or set_to is None:
        return []
    return [bench.result("rate_error", difference(rate, set_to), limit=rate_limit(set_to.value))]


def _peep(bench: Bench) -> list[Result]:
    peep, set_to = bench.value("peep", needed=False), bench.value("peep_set", nominal=True)
    if peep is None or set_to is None:
        return []
    return [bench.result("peep_error", difference(peep, set_to), limit=peep_limit(set_to.value))]


def _display(bench: Bench) -> list[Result]:
    shown, peak, top = (
        bench.value("peak_shown", nominal=True), bench.value("peak"), bench.value("full_scale", nominal=True)
    )  # fmt: skip
    if shown is None or peak is None or top is None:
        return []
    if top.value <= 0:
        raise BenchError("full_scale", "Full scale of the pressure display: enter the highest pressure that it shows.")
    return [bench.result("pressure_error", difference(shown, peak), limit=display_limit(peak.value, top.value))]


def _little_fresh_gas(bench: Bench) -> Unmet | None:
    """The fresh gas adds too little to each judged breath to matter."""
    own = bench.context.limits.get("volume_error")
    for one in _judged(read_breaths(bench)):
        tolerance = (own or volume_limit("volume_error", one.set.value, "mL")).tolerance_si or 0.0
        added = _most_added(one)
        if added > FRESH_GAS_SHARE * tolerance / 2 * (1 + 1e-9):
            return Unmet(_too_much(one, added), Reason.TOO_COARSE, fail_stands=False)
    return None


def _most_added(breath: Breath) -> float:
    """Return the fresh gas that may join a breath; where it is not known whether any does, all of it."""
    joins = 1.0 if breath.joins.value else 0.0
    return breath.fresh.value * breath.share.value / breath.rate.value * joins


def _too_much(breath: Breath, added: float) -> str:
    flow = from_si(breath.fresh.value, "L/min")
    return (
        f"At {flow:.3g} L/min the fresh gas adds up to {_ml(added)} to a breath of {_ml(breath.set.value)}, so the "
        "volume as read says little of the ventilator. Set the lowest fresh gas flow that the machine allows and "
        "measure again."
    )


def _measured_apart(bench: Bench) -> Unmet | None:
    if all(one.measured.instrument for one in read_breaths(bench)):
        return None
    why = (
        "The measured volume names no instrument. A machine's own display is no reference for what the machine "
        "delivers: read a calibrated volume at the patient end, and name the instrument."
    )
    return Unmet(why, Reason.OWN_REFERENCE)


def _loaded(bench: Bench) -> Unmet | None:
    rises = [one.plateau.value - one.peep.value for one in read_breaths(bench)]
    if not rises or max(rises) >= LEAST_LOAD * CLOSELY:
        return None
    return Unmet(
        f"The plateau pressure rose by no more than {from_si(max(rises), 'cmH2O'):.2g} cmH2O above PEEP: a leak of the "
        "ventilator shows only under pressure. Use a stiffer test lung or a larger volume, to 10 cmH2O or more."
    )


def _curve(bench: Bench, breaths: list[Breath]) -> tuple[Curve, ...]:
    if not breaths:
        return ()
    x_unit, y_unit = bench.unit("volumes", "set"), bench.unit("volumes", "measured")
    read = points("measured", _pairs(breaths, [one.set.value + one.error.value for one in breaths]), x_unit, y_unit)
    sound = points("sound machine", _pairs(breaths, [one.expected for one in breaths]), x_unit, y_unit)
    band = [
        points(label, _pairs(breaths, [one.set.value * (1 + side) for one in breaths]), x_unit, y_unit, "line")
        for label, side in (("set - 20 %", -VOLUME_SHARE), ("set + 20 %", VOLUME_SHARE))
    ]
    series: tuple[Series, ...] = (read, sound, *band)
    return (Curve("volumes", "Volume at the patient end", "set volume", x_unit, "measured volume", y_unit, series),)


def _pairs(breaths: list[Breath], heights: list[float]) -> list[tuple[Measured, Measured]]:
    return [(one.set, Measured(height)) for one, height in zip(breaths, heights, strict=True)]


_CONDITIONS = {
    "as read": "set and measured volume under the same conditions",
    "body": "measured volume of dry gas at room temperature brought to 37 °C, saturated (ATPD to BTPS)",
}
_VOLUMES = ("volume_error", "own_error", "minute_volume_error")
_NOT_DECOUPLED = with_option("decoupled", "no", "unknown")


def _pressure(key: str, label: str, **more):
    return reading(key, label, Dimension.PRESSURE, first="cmH2O", **more)


def _read_apart(key: str, label: str, **more):
    """Return a declared volume that counts only by an instrument, though most volumes on a bench are stated."""
    return replace(reading(key, label, Dimension.VOLUME, **more), needs_instrument=True)


VENTILATOR = Test(
    code="ventilator-volume",
    family="ventilator and monitors",
    title="Ventilator: volume, rate and pressure",
    purpose="Compare what the ventilator delivers into a test lung with what was set. Connect the hoses in use, put "
            "the reference at the patient end, in front of a test lung stiff enough for 10 to 30 cmH2O"
            "{vaporizer|, turn the vaporizers off} and wait ten breaths after each change. Where a machine does not "
            "decouple its fresh gas, this is added to every breath: at 6 L/min, 12 breaths a minute and I:E 1:2 a "
            "sound machine set to 500 mL with hoses of 2.5 mL/cmH2O reads 617 mL, 23 % too much. So test at the lowest "
            "fresh gas flow.",
    cautions=(
        NEVER_ON_A_PATIENT,
        "Set the pressure limit of the ventilator before the first breath: a stiff lung or a closed hose reaches it.",
        "{vaporizer|Keep the vaporizers off: vapour makes flow sensors read wrongly, by 6 to 26 % in a published "
        "comparison.}",
        "What commonly goes wrong: a leak at the test lung, a reference set for another gas, a reading taken before "
        "the volume has settled, and the machine's own display entered as the measured volume.",
    ),
    readings=(
        reading("rate_set", "Set rate", Dimension.RATE, stated=True, judges=("rate_error", "minute_volume_error")),
        reading("rate", "Measured rate", Dimension.RATE, judges=("rate_error", "minute_volume_error", "own_error")),
        reading("inspiratory_share", "Inspiratory share of the cycle", Dimension.FRACTION, required=False, stated=True,
                asked=True, help="33.3 % for I:E 1:2, 50 % for 1:1; an inspiratory pause counts",
                judges=("own_error", "volume_error"), wanted=_NOT_DECOUPLED),
        reading("fresh_gas", "Fresh gas flow during the test", Dimension.FLOW, required=False, asked=True,
                help="all gases together; the lowest that the machine allows",
                judges=("own_error", "volume_error"), wanted=_NOT_DECOUPLED),
        reading("compliance", "Compliance of the hoses", Dimension.COMPLIANCE, first="mL/cmH2O", required=False,
                stated=True, asked=True, help="of hoses, absorber and filter in use, measured or from their label",
                judges=("own_error",), wanted=with_option("hoses", "stated")),
        reading("hose_volume", "Volume of the hoses", Dimension.VOLUME, required=False, asked=True,
                help="of hoses and all that the breath is driven through, up to the patient end",
                judges=("own_error",), wanted=with_option("hoses", "volume")),
        _pressure("peep_set", "Set PEEP", required=False, asked=True, stated=True, judges=("peep_error",)),
        _pressure("peep", "Measured PEEP", judges=("peep_error", "own_error"), help="0 where none is set"),
        _pressure("peak", "Measured peak pressure", required=False, asked=True, judges=("pressure_error",),
                  help="by the reference, at the largest volume set"),
        _pressure("peak_shown", "Peak pressure on the machine's display", required=False, asked=True, stated=True,
                  judges=("pressure_error",), help="of the same breaths"),
        _pressure("full_scale", "Full scale of that display", required=False, asked=True, stated=True,
                  judges=("pressure_error",)),
    ),
    tables=(
        TableSpec("volumes", "Volumes",
                  (reading("set", "Set volume", Dimension.VOLUME, stated=True, judges=_VOLUMES),
                   _read_apart("measured", "Measured volume", judges=_VOLUMES,
                               help="by the reference at the patient end; repeats of several breaths"),
                   _pressure("plateau", "Plateau pressure", judges=("own_error",),
                             help="at the end of inspiration; the peak where there is no pause")),
                  1, 3, "the settings in use, one of them above 300 mL", sets=("set",)),
    ),
    choices=(
        ChoiceSpec("decoupled", "Does the machine keep fresh gas out of the breath?",
                   (("yes", "yes, it decouples its fresh gas"), ("no", "no, fresh gas is added to each breath"),
                    ("unknown", "not known")), "unknown"),
        ChoiceSpec("hoses", "Gas that the hoses take up",
                   (("stated", "from their compliance"), ("volume", "from their volume, by the gas law"),
                    ("compensated", "the machine adds it by itself")), "stated"),
        ChoiceSpec("conditions", "Conditions of the set volume",
                   (("as read", "as the reference reads it"), ("body", "37 °C and saturated; the reference reads dry "
                                                                       "gas at room temperature")), "as read"),
    ),
    rated=(),
    results=(
        ResultSpec("volume_error", "Error of the volume as read", Dimension.VOLUME, "mL",
                    "measured at the patient end minus set, of the gravest row",
                    Challenge("fresh gas that adds no more than a quarter of the tolerance; volume read on an "
                              "instrument", first_unmet(_measured_apart, _little_fresh_gas)),
                    needed=True, own_limit=True),
        ResultSpec("own_error", "Error of the machine itself", Dimension.VOLUME, "mL",
                    "measured minus expected; expected is set + fresh gas of an inspiration - compliance x (plateau - "
                    "PEEP), of the gravest row",
                    Challenge("a test lung that lets the pressure rise by 10 cmH2O or more; volume read on an "
                              "instrument", first_unmet(_measured_apart, _loaded)),
                    needed=True, own_limit=True),
        ResultSpec("minute_volume_error", "Error of the minute volume as read", Dimension.FLOW, "L/min",
                    "measured volume x measured rate minus set volume x set rate, of the gravest row",
                    Challenge("fresh gas that adds no more than a quarter of the tolerance; volume read on an "
                              "instrument", first_unmet(_measured_apart, _little_fresh_gas)),
                    needed=True, own_limit=True),
        ResultSpec("fresh_gas_added", "Fresh gas added to a breath", Dimension.VOLUME, "mL",
                    "fresh gas flow x inspiratory share / measured rate, ambient conditions",
                    NoChallenge("it is reported only"), unjudged="It is no fault of the ventilator."),
        ResultSpec("hose_loss", "Gas taken up by the hoses", Dimension.VOLUME, "mL",
                    "compliance x (plateau - PEEP), ambient conditions",
                    NoChallenge("it is reported only"), unjudged="It is no fault of the ventilator."),
        ResultSpec("rate_error", "Error of the rate", Dimension.RATE, "1/min", "measured minus set",
                    NoChallenge("breaths that were counted were given"), needed=True, own_limit=True),
        ResultSpec("peep_error", "Error of PEEP", Dimension.PRESSURE, "cmH2O", "measured minus set, gauge",
                    NoChallenge("the set PEEP is the challenge"), needed=True, own_limit=True),
        ResultSpec("pressure_error", "Error of the pressure display", Dimension.PRESSURE, "cmH2O",
                    "display of the machine minus reference, at the peak",
                    NoChallenge("the peak of the breath is the challenge"), needed=True, own_limit=True),
    ),
    default_limits=(),
    source="JJF(Lu) 168-2023, section 5; IEC 60601-2-13; ideal gas law for the hoses",
    evaluate=evaluate_ventilator,
    pairs=(
        NeverAbove(("peep", ""), ("volumes", "plateau"), "PEEP is the lowest pressure of a breath."),
        NeverAbove(("volumes", "plateau"), ("peak", ""), "The plateau of a breath is never above its peak."),
        NeverAbove(("peep", ""), ("peak", ""), "PEEP is the lowest pressure of a breath."),
    ),
)  # fmt: skip
