"""The output of a vaporizer over its dial, judged at each setting by a rule that is named."""

from collections.abc import Callable
from dataclasses import dataclass

from .challenges import Challenge, Reason, Unmet, first_unmet
from .declarations import ChoiceSpec, Context, ResultSpec, TableSpec, Test
from .errors import BenchError
from .impossible import NeverAbove, NeverCrosses
from .limits import Limit
from .measuring import Bench
from .pictures import points
from .propagation import Measured, propagate_measured
from .quantities import Dimension, from_si, to_si
from .readings import Sheet
from .results import Curve, Evaluation, Result
from .specs import NEVER_ON_A_PATIENT, observation, reading
from .strictest import gravest
from .uncertainty import Estimate, coverage_factor, excess_of
from .vapour import (
    BAND_OF,
    CALIBRATED_PA,
    HEATED,
    MEASURED_FLOW,
    PARTIAL,
    SATURATED_PA,
    SHARE,
    VARIABLE,
    as_dialled,
    off_limits,
    split_output,
)

FLOWS = to_si(2, "L/min"), to_si(10, "L/min")
"""Flows at which an output stands for the vaporizer; published audits took 4 to 6 L/min. Common practice, no source."""
LOW_PART, HIGH_PART = 0.25, 0.5
"""Parts of the maximum down to and up to which settings are tried. Common practice, no source."""
GOOD_RATIO = 4.0  # of tolerance to expanded uncertainty: ANSI/NCSL Z540.3, from memory
ALTITUDE = 0.03  # part by which the ambient pressure differs before a remark speaks of it; weather makes 3 %


@dataclass(frozen=True, slots=True)
class Point:
    """One setting with what was read there and its error, in fractions."""

    number: int
    dial: Measured
    measured: Measured
    error: Estimate
    limit: Limit

    @property
    def expanded(self) -> float:
        return coverage_factor(self.error.dof, excess=excess_of(self.error)) * self.error.std_uncertainty

    @property
    def ratio(self) -> float:
        """Tolerance over expanded uncertainty: below 1 nothing that is read can be a pass."""
        tolerance = (self.limit.tolerance_si or 0.0) / 2
        return tolerance / self.expanded if self.expanded else float("inf")

    @property
    def dialled(self) -> float:
        """What the dial should say to give what was read."""
        return self.dial.value + self.error.value


def evaluate_vaporizer(sheet: Sheet, context: Context) -> Evaluation:
    """Return the error of the output at the worst setting, and what comes with the dial off. Raises BenchError."""
    bench = Bench(VAPORIZER, sheet, context)
    found = _points(bench)
    bench.value("flow", nominal=True)
    bench.value("upset")
    results: list[Result] = []
    if found:
        results.append(_worst(bench, found))
        bench.remarks += [*_fitness(found), *_at_altitude(bench, found)]
    off = bench.value("off_output")
    if off is not None:
        results.append(bench.result("off_output", off.estimate))
    return bench.finish(results, _curve(bench, found))


def _key(bench: Bench) -> str:
    return f"output_{bench.choice('rule')}"


def _points(bench: Bench) -> list[Point]:
    rows, maximum = bench.rows("outputs", nominal=("dial",)), bench.value("maximum", nominal=True)
    if maximum is None:
        return []
    if maximum.value == 0:
        raise BenchError("maximum", "Maximum setting: enter the highest figure on the dial; 0 is none.")
    convert = as_dialled(bench.choice("type"), bench.choice("shows"))
    band = bench.context.limits.get(_key(bench)), BAND_OF[bench.choice("rule")]
    found = []
    for number, row in rows:
        _refuse_setting(number, row["dial"].value, maximum.value)
        error = propagate_measured(
            lambda shown, dial, ambient: convert(shown, ambient) - dial, (row["measured"], row["dial"], bench.ambient)
        )
        judge = band[0] or band[1](_key(bench), row["dial"].value, maximum.value)
        found.append(Point(number, row["dial"], row["measured"], error, judge))
    return sorted(found, key=lambda one: one.dial.value)


def _refuse_setting(number: int, dial: float, maximum: float) -> None:
    where, shown = f"outputs[{number}].dial", f"Row {number}: a setting of {from_si(dial, '%'):.3g} %"
    if dial == 0:
        raise BenchError(where, f"{shown} is off. Enter what was read there as the output with the dial off.")
    if dial > maximum * (1 + 1e-9):
        raise BenchError(where, f"{shown} is above the maximum of {from_si(maximum, '%'):.3g} %. Check both.")


def _worst(bench: Bench, found: list[Point]) -> Result:
    number = gravest(bench.test.result_spec(_key(bench)), [(point.error, point.limit) for point in found])
    return _judged(bench, found[number], len(found))


def _judged(bench: Bench, point: Point, count: int) -> Result:
    dial = from_si(point.dial.value, "%")
    remark = (
        f"Row {point.number}, set to {dial:.3g} %: {from_si(point.measured.value, '%'):.3g} % read, "
        f"{point.error.value / point.dial.value:+.1%} of the setting; the gravest of {count}."
    )
    key = _key(bench)
    spec = bench.test.result_spec(key)
    convention = f"{spec.convention}; {_MEANING[bench.choice('type')]}; {bench.choice('agent')}; {_gas(bench)}"
    return bench.result(key, point.error, limit=point.limit, remark=remark, convention=convention)


def _gas(bench: Bench) -> str:
    flow = bench.value("flow", needed=False, nominal=True)
    at = "flow not stated" if flow is None else f"{from_si(flow.value, 'L/min'):.3g} L/min"
    return f"{at} in {dict(_CARRIERS)[bench.choice('carrier')]}"


def _fitness(found: list[Point]) -> list[str]:
    """Return a sentence on settings where the analyser is good enough to judge, but not four times better."""
    near = [one for one in found if 1 <= one.ratio < GOOD_RATIO]
    if not near:
        return []
    listed = ", ".join(f"{one.ratio:.2g} at {from_si(one.dial.value, '%'):.3g} %" for one in near)
    return [f"Tolerance over U of the analyser is below 4: {listed}. Results near the limit stay conditional."]


def _at_altitude(bench: Bench, found: list[Point]) -> list[str]:
    ambient, kind = bench.context.ambient_pa_abs, bench.choice("type")
    if abs(ambient / CALIBRATED_PA - 1) <= ALTITUDE:
        return []
    dial = found[-1].dial.value
    if kind == HEATED:
        needed = from_si(dial * CALIBRATED_PA / ambient, "%")
        return [
            f"At {ambient / 1000:.4g} kPa a percentage is a smaller partial pressure: for the effect of "
            f"{from_si(dial, '%'):.3g} % at sea level the dial has to be set to {needed:.3g} %."
        ]
    saturated = SATURATED_PA.get(bench.choice("agent"))
    if kind != VARIABLE or saturated is None or saturated >= ambient:
        return []
    simple, split = dial * CALIBRATED_PA / ambient, split_output(dial, saturated, ambient)
    return [
        f"At {ambient / 1000:.4g} kPa a sound vaporizer set to {from_si(dial, '%'):.3g} % gives "
        f"{from_si(simple, '%'):.4g} % by the simple rule that judges here, {from_si(split, '%'):.4g} % by the model "
        "of a fixed split of flows."
    ]


def _upset(bench: Bench) -> Unmet | None:
    upset = bench.value("upset")
    if upset is None or upset.value == 0:
        return None
    return Unmet(
        "It was tipped, or filled with another agent, and not purged since: what it gives says nothing of it. Purge "
        "it first, by the test of vaporizer safety.", fail_stands=False,
    )  # fmt: skip


def _flow_fits(bench: Bench) -> Unmet | None:
    flow = bench.value("flow", needed=False, nominal=True)
    if flow is None or FLOWS[0] * 0.99 <= flow.value <= FLOWS[1] * 1.01:
        return None
    return Unmet(
        f"The flow was {from_si(flow.value, 'L/min'):.3g} L/min; output changes with flow: measure at 2 to 10 L/min.",
        fail_stands=False,
    )


def _carrier_fits(bench: Bench) -> Unmet | None:
    if bench.choice("carrier") != "nitrous oxide":
        return None
    return Unmet(
        "The carrier gas held nitrous oxide, which dissolves in the liquid and lowers the output for a time: measure "
        "in oxygen, some minutes after the change.", fail_stands=False,
    )  # fmt: skip


def _settings_cover(bench: Bench) -> Unmet | None:
    maximum = bench.value("maximum", nominal=True)
    dials = [row["dial"].value for _, row in bench.rows("outputs", nominal=("dial",))]
    if maximum is None or not dials:
        return None
    if min(dials) <= LOW_PART * maximum.value * 1.01 and max(dials) >= HIGH_PART * maximum.value * 0.99:
        return None
    return Unmet("Settings from a quarter of the maximum or lower to half of it or higher were not all tried.")


def _analyser_fits(bench: Bench) -> Unmet | None:
    """At every setting the tolerance is at least the expanded uncertainty of what was read."""
    unfit = [one for one in _points(bench) if one.ratio < 1 - 1e-9]
    if not unfit:
        return None
    one = min(unfit, key=lambda point: point.ratio)
    dial, expanded = from_si(one.dial.value, "%"), from_si(one.expanded, "%")
    why = (
        f"At {dial:.3g} % the tolerance is {one.ratio:.2g} times U ({expanded:.2g} %) of the analyser: it cannot judge "
        "this setting, whatever it reads. Use an analyser with a smaller uncertainty; a monitor for clinical use is "
        "too coarse at low settings."
    )
    return Unmet(why, Reason.TOO_COARSE)


def _gave_vapour(bench: Bench) -> Unmet | None:
    off = bench.value("off_output", needed=False)
    read = [point.measured.value for point in _points(bench)]
    if off is None or (read and max(read) > off.value):
        return None
    return Unmet(
        "No vapour was read at any setting; an empty vaporizer and an analyser without a sample read 0 as well."
    )


def _curve(bench: Bench, found: list[Point]) -> tuple[Curve, ...]:
    if not found:
        return ()
    x_unit, y_unit = bench.unit("outputs", "dial"), bench.unit("outputs", "measured")
    lines: tuple[tuple[str, Callable[[Point], float | None], str], ...] = (
        ("read", lambda one: one.measured.value, "both"),
        ("brought to the dial", lambda one: one.dialled, "both"),
        ("lower limit", lambda one: _end(one, one.limit.lower_si), "line"),
        ("upper limit", lambda one: _end(one, one.limit.upper_si), "line"),
    )
    series = []
    for label, height, style in lines:
        pairs = [(one.dial, Measured(value)) for one in found if (value := height(one)) is not None]
        series.append(points(label, pairs, x_unit, y_unit, style))
    return (Curve("output", "Output over the dial", "setting", x_unit, "concentration", y_unit, tuple(series)),)


def _end(point: Point, end: float | None) -> float | None:
    return None if end is None else point.dial.value + end


_MEANING = {
    VARIABLE: "percent of 101.325 kPa: partial pressure at a setting the same at every altitude (simple rule)",
    HEATED: "percent of the gas: the same percentage at every altitude",
    MEASURED_FLOW: "percent of the gas: setting worked out for the ambient pressure",
}
_CARRIERS = (("oxygen", "oxygen"), ("air", "oxygen and air, or air"), ("nitrous oxide", "a mixture with nitrous oxide"))
_OUTPUT = Challenge(
    "settings from a quarter of the maximum to half of it or more, at 2 to 10 L/min without nitrous oxide, by an "
    "analyser whose U is within the tolerance at each setting",
    first_unmet(_upset, _flow_fits, _carrier_fits, _analyser_fits, _settings_cover),
)
_OUTPUTS = ("output_symmetric", "output_asymmetric", "output_audit")


def _asked_for(rule: str) -> Callable[[Bench], bool]:
    return lambda bench: bench.choice("rule") == rule


def _output(rule: str, label: str) -> ResultSpec:
    return ResultSpec(
        f"output_{rule}", label, Dimension.FRACTION, "%", "output as the dial means it minus setting, gravest setting",
        _OUTPUT, needed=_asked_for(rule), own_limit=True,
    )  # fmt: skip


VAPORIZER = Test(
    code="vaporizer-output",
    family="vaporizers",
    title="Vaporizer output",
    purpose="Compare what a vaporizer gives over its dial with its settings. Let it stand level and filled at room "
            "temperature, not tipped and not refilled within the last half hour. Run 4 to 6 L/min of oxygen, sample at "
            "the common gas outlet through a T-piece with the rest scavenged, and wait a minute or more after each "
            "change of setting, until the reading is steady. Zero the analyser in the same carrier gas and read the "
            "output with the dial off last.",
    cautions=(
        NEVER_ON_A_PATIENT,
        "Scavenge the outlet and the exhaust of the analyser; never sniff for vapour.",
        "The analyser must be fit for the lowest setting: one with an error of 0.2 % + 15 % of the reading, as allowed "
        "for clinical monitors, cannot judge a setting of 1 %.",
        "What commonly goes wrong: an analyser set to another agent, a sample diluted by room air, a reading taken "
        "before it was steady, a vaporizer nearly empty, cold or just tipped.",
    ),
    readings=(
        reading("maximum", "Maximum setting of the dial", Dimension.FRACTION, stated=True, judges=_OUTPUTS),
        reading("flow", "Fresh gas flow during the test", Dimension.FLOW, stated=True,
                judges=(*_OUTPUTS,), help="4 to 6 L/min; output changes with flow"),
        reading("off_output", "Output with the dial off", Dimension.FRACTION, required=False, asked=True,
                judges=("off_output",), help="after the last setting, once the reading is steady"),
        observation("upset", "Was it tipped, or filled with another agent, and not purged since?", required=False,
                    judges=(*_OUTPUTS, "off_output"), help="leave it empty where neither happened"),
    ),
    tables=(
        TableSpec("outputs", "Output over the dial",
                  (reading("dial", "Setting", Dimension.FRACTION, stated=True, judges=_OUTPUTS),
                   reading("measured", "Measured concentration", Dimension.FRACTION, judges=(*_OUTPUTS, "off_output"))),
                  1, 5, "from a low setting to a high one; rows in any order", sets=("dial",)),
    ),
    choices=(
        ChoiceSpec("type", "Type of vaporizer",
                   ((VARIABLE, "variable bypass"), (HEATED, "heated, constant percentage"),
                    (MEASURED_FLOW, "measured flow, setting worked out from flows")), VARIABLE),
        ChoiceSpec("agent", "Agent",
                   (*((one, one) for one in (*SATURATED_PA, "desflurane")), ("other agent", "other")), "other agent"),
        ChoiceSpec("carrier", "Carrier gas", _CARRIERS, "oxygen",
                   option_needs={"air": ("air",), "nitrous oxide": ("nitrous-oxide",)}),
        ChoiceSpec("shows", "What the analyser shows",
                   ((SHARE, "share of the gas: it allows for the ambient pressure"),
                    (PARTIAL, "partial pressure as percent of sea level: refractometer, or no allowance")), SHARE),
        ChoiceSpec("rule", "Limit of the output",
                   (("symmetric", "20 % of setting or 5 % of maximum"),
                    ("asymmetric", "+30/-20 % of setting or +7.5/-5 % of maximum"),
                    ("audit", "15 % of setting")), "symmetric"),
    ),
    rated=(),
    results=(
        _output("symmetric", "Error of the output, symmetric limit"),
        _output("asymmetric", "Error of the output, asymmetric limit"),
        _output("audit", "Error of the output, limit of the audit"),
        ResultSpec("off_output", "Output with the dial off", Dimension.FRACTION, "%", "as the analyser shows it",
                    Challenge("vapour read by the same analyser at a setting", first_unmet(_upset, _gave_vapour)),
                    needed=True),
    ),
    default_limits=off_limits("off_output"),
    source="Br J Anaesth 1993; 71: 453-7; ISO 8835-4; frcanotes.com, Altitude_volatiles",
    evaluate=evaluate_vaporizer,
    pairs=(
        NeverAbove(("off_output", ""), ("outputs", "measured"), "A vaporizer gives less vapour off than on."),
        NeverAbove(("outputs", "dial"), ("maximum", ""), "No setting is above the highest one of the dial."),
        NeverCrosses("outputs", "outputs", "dial", "measured", "A vaporizer gives more vapour at a higher setting."),
    ),
)  # fmt: skip
