"""Leak of the low-pressure part and of the breathing system, by make-up flow or by pressure decay.

Every leak says its convention: mean over the decay or at the test pressure, as ambient volume or at
20 °C and 101.325 kPa. A limit judges the leak at the test pressure, as ambient volume.
"""

from .capacity import CAPACITIES, positive_value, read_decay
from .challenges import NoChallenge
from .decay import standard_flow
from .declarations import ChoiceSpec, Context, ResultSpec, TableSpec, Test, Wanted
from .impossible import NeverAbove, NeverCrosses
from .leak_challenges import (
    BREATHING_LEAK,
    MACHINE_LEAK,
    OUTLET_VALVE,
    TEST_PRESSURES,
    VAPORIZER_COUNT,
    VAPORIZER_LEAK,
    brought_to,
    has_vaporizers,
    is_suction,
    with_vaporizers,
)
from .leak_decays import Decay, both, decay_curve, emptied, falls
from .limits import FROM_MEMORY, SEEN, Limit
from .measuring import Bench
from .quantities import Dimension
from .readings import Sheet
from .results import Curve, Evaluation, Result
from .specs import NEVER_ON_A_PATIENT, limit, reading, with_option


def evaluate_machine(sheet: Sheet, context: Context) -> Evaluation:
    """Return the leak of the low-pressure part, flow control to outlet. Raises BenchError (see Test)."""
    return _evaluate(Bench(MACHINE, sheet, context))


def evaluate_breathing_system(sheet: Sheet, context: Context) -> Evaluation:
    """Return the leak of the breathing system. Raises BenchError (see Test)."""
    return _evaluate(Bench(BREATHING_SYSTEM, sheet, context))


def _evaluate(bench: Bench) -> Evaluation:
    method, at = bench.choice("method"), bench.choice("at")
    capacity_by = bench.choice("capacity")
    for key in ("ambient", "temperature"):
        bench.assume(bench.context.assumed.get(key, ""))
    results: list[Result] = []
    curves: tuple[Curve, ...] = ()
    if method == "make-up":
        results += _made_up(bench, at)
    else:
        decay = read_decay(bench, "decay", needed=2)
        capacity = CAPACITIES[capacity_by](bench)
        if decay is not None:
            curves = (decay_curve(bench, decay, at),)
            if capacity is not None and not decay.has_fit:
                results += emptied(bench, decay, capacity, at)
            elif capacity is not None and falls(bench, decay):
                results += Decay(bench, decay, capacity, at).results()
    if bench.test.code == MACHINE.code:
        results += with_vaporizers(bench, TEST_PRESSURES[at])
    return bench.finish(results, curves)


def _made_up(bench: Bench, at: str) -> list[Result]:
    flow = bench.value("makeup_flow", needed=True)
    pressure = positive_value(bench, "makeup_pressure", by_suction=True)
    if flow is None or pressure is None:
        return []
    target = TEST_PRESSURES[at]
    shown = f"{pressure.value / 1000:.3g} kPa{' of suction' if is_suction(bench) else ''}"
    way = "in proportion (laminar)" if pressure.value < target else "by the square root (orifice)"
    text = f"make-up flow at {shown}, scaled to {at} {way}, the larger of the two estimates; ambient volume"
    leak = brought_to(target, flow, pressure)
    standard = brought_to(target, flow, pressure, bench.ambient, bench.ambient_kelvin, to=standard_flow)
    return both(bench, "leak", leak, standard, text)


def _leak_limits(*rows: tuple) -> tuple[Limit, ...]:
    return tuple(
        limit("leak", rule, title, (None, most), "mL/min", source, edition, basis, built=built)
        for rule, title, most, source, edition, basis, built in rows
    )


_MACHINE_LIMITS = _leak_limits(
    ("iso80601-50", "No more than 50 mL/min at 3 kPa", 50, "ISO 80601-2-13", "2011", FROM_MEMORY, (2011, None)),
    ("en740-50", "No more than 50 mL/min at 3 kPa", 50, "EN 740", "1998", FROM_MEMORY, (1998, 2011)),
    ("f1161-30", "No more than 30 mL/min at 3 kPa", 30, "ASTM F1161", "F1161", FROM_MEMORY, (None, 1998)),
    ("f1850-30", "No more than 30 mL/min at 3 kPa", 30, "ASTM F1850", "F1850-00", FROM_MEMORY, (2000, None)),
)

_BREATHING_LIMITS = _leak_limits(
    ("iso80601-150", "No more than 150 mL/min at 3 kPa", 150, "ISO 80601-2-13", "2011", FROM_MEMORY, (2011, None)),
    ("iso8835-150", "No more than 150 mL/min at 3 kPa", 150, "ISO 8835-2", "1999", FROM_MEMORY, (1999, 2011)),
    ("f1208-300", "No more than 300 mL/min at 30 cmH2O", 300, "ASTM F1208", "F1208-89", FROM_MEMORY, (None, 1999)),
    ("notebook-300", "No more than 300 mL/min at 30 cmH2O", 300,
     'trainee notebook "Anaesthetic Machine Check" (secondary)', "-", SEEN, (None, None)),
)  # fmt: skip


_DECAY = with_option("method", "decay")


def _capacity_by(way: str) -> Wanted:
    return ((("method", "decay"), ("capacity", way)),)


_MADE_UP = (*with_option("method", "make-up"), *_capacity_by("make-up"))
_STATED, _INJECTED, _ADDED = (_capacity_by(way) for way in ("stated", "injected", "added leak"))


def _given(
    key: str,
    label: str,
    dimension: Dimension,
    wanted: Wanted,
    *,
    first: str | None = None,
    help: str = "",
    stated: bool = False,
    asked: bool = True,
):
    return reading(
        key, label, dimension, first=first, help=help, required=False, stated=stated, judges=("leak",), asked=asked,
        wanted=wanted,
    )  # fmt: skip


_READINGS = (
    _given("makeup_flow", "Make-up flow", Dimension.FLOW, _MADE_UP, first="mL/min",
           help="the flow that holds the test pressure"),
    _given("makeup_pressure", "Pressure held", Dimension.PRESSURE, _MADE_UP, first="cmH2O"),
    _given("rigid_volume", "Rigid volume", Dimension.VOLUME, _STATED, help="if the capacity is stated"),
    _given("compliance", "Compliance of hoses and bag", Dimension.COMPLIANCE, _STATED, help="added to the rigid volume",
           asked=False),
    _given("injected_volume", "Volume injected", Dimension.VOLUME, _INJECTED,
           help="from a syringe filled at ambient pressure"),
    _given("injected_before", "Pressure before injecting", Dimension.PRESSURE, _INJECTED, first="cmH2O"),
    _given("injected_after", "Pressure after injecting", Dimension.PRESSURE, _INJECTED, first="cmH2O"),
    _given("added_leak_flow", "Added known leak", Dimension.FLOW, _ADDED, first="mL/min", stated=True),
    _given("added_leak_pressure", "Pressure at which the known leak is stated", Dimension.PRESSURE, _ADDED,
           first="cmH2O", stated=True),
    _given("temperature_start", "Gas temperature at the start", Dimension.TEMPERATURE, _DECAY, asked=False),
    _given("temperature_end", "Gas temperature at the end", Dimension.TEMPERATURE, _DECAY, asked=False),
)  # fmt: skip

_DECAY_COLUMNS = (
    reading("time", "Time", Dimension.TIME, judges=("leak",)),
    reading("pressure", "Pressure", Dimension.PRESSURE, first="cmH2O", judges=("leak",)),
)

_TABLES = (
    TableSpec("decay", "Pressure decay", _DECAY_COLUMNS, 0, 6, "for the pressure decay method; rows in any order",
              is_expected=True, wanted=_DECAY, sets=("time",)),
    TableSpec("decay_added", "Pressure decay with the known leak", _DECAY_COLUMNS, 0, 6,
              "if the capacity is found with an added leak", is_expected=True, wanted=_ADDED, sets=("time",)),
)  # fmt: skip

_CHOICES = (
    ChoiceSpec("method", "Method", (("make-up", "make-up flow"), ("decay", "pressure decay")),
               "make-up"),
    ChoiceSpec("capacity", "Capacity, for the pressure decay method",
               (("stated", "stated volume and compliance"), ("make-up", "from the make-up flow and the decay"),
                ("injected", "from an injected volume"), ("added leak", "from an added known leak")),
               "stated", _DECAY),
    ChoiceSpec("at", "Test pressure", (("3 kPa", "3 kPa (30.6 cmH2O)"), ("30 cmH2O", "30 cmH2O (2.94 kPa)")), "3 kPa"),
)  # fmt: skip

_REPORTED = NoChallenge("it is reported only")
_JUDGED_AS_LEAK = "The leak at the test pressure as ambient volume is judged: the limits are of that."
_OTHERS = (
    ResultSpec("leak_standard", "Leak, standard volume", Dimension.FLOW, "mL/min",
                "at the test pressure; volume at 20 °C and 101.325 kPa", _REPORTED, unjudged=_JUDGED_AS_LEAK),
    ResultSpec("leak_mean", "Mean leak", Dimension.FLOW, "mL/min", "mean over the decay; ambient volume", _REPORTED,
                unjudged=_JUDGED_AS_LEAK),
    ResultSpec("leak_mean_standard", "Mean leak, standard volume", Dimension.FLOW, "mL/min",
                "mean over the decay; volume at 20 °C and 101.325 kPa", _REPORTED, unjudged=_JUDGED_AS_LEAK),
    ResultSpec("capacity", "Capacity", Dimension.COMPLIANCE, "mL/kPa", "ambient gas volume per unit of pressure",
                _REPORTED, unjudged="It is a property of the system under test, and part of the leak."),
    ResultSpec("effective_volume", "Effective volume", Dimension.VOLUME, "mL",
                "equivalent rigid volume: capacity x ambient pressure", _REPORTED,
                unjudged="It is a property of the system under test, and part of the leak."),
)  # fmt: skip


def _leak_result(challenge) -> ResultSpec:
    return ResultSpec(
        "leak", "Leak", Dimension.FLOW, "mL/min", "at the test pressure; ambient volume", challenge, needed=True
    )


_VAPORIZERS = ResultSpec(
    "leak_vaporizers", "Leak with each vaporizer on in turn", Dimension.FLOW, "mL/min",
    "largest of all vaporizers; at the test pressure; ambient volume", VAPORIZER_LEAK, needed=has_vaporizers,
    needs=("vaporizer",),
    own_limit=True,
)  # fmt: skip

_VAPORIZER_TABLE = TableSpec(
    "vaporizers", "Leak with each vaporizer on in turn",
    (
        reading("flow", "Flow with the vaporizer on", Dimension.FLOW, first="mL/min", judges=("leak_vaporizers",)),
        reading("pressure", "Pressure with the vaporizer on", Dimension.PRESSURE, first="cmH2O",
                judges=("leak_vaporizers",)),
    ),
    0, 2, "one row for each vaporizer, from the first place to the last, that vaporizer alone turned on",
    is_expected=True, wanted=with_option("vaporizer_count", "record", *map(str, range(1, 7))),
)  # fmt: skip

_MACHINE_CHOICES = (
    ChoiceSpec("outlet_valve", "Outlet check valve",
               (("record", "as the machine's record says"), ("none", "none is fitted, looked at"),
                ("fitted", "fitted")), "record"),
    VAPORIZER_COUNT,
)  # fmt: skip


_ESCAPES = "Gas only escapes, so the pressure falls with time."
_PAIRS = (
    NeverAbove(("injected_before", ""), ("injected_after", ""), "Gas that is injected raises the pressure."),
    NeverCrosses("decay", "decay", "time", "pressure", _ESCAPES, falls=True),
    NeverCrosses("decay_added", "decay_added", "time", "pressure", _ESCAPES, falls=True),
)


def _leak_test(code, title, purpose, caution, limits, evaluate, results, *, tables=(), choices=(), features=()) -> Test:
    return Test(
        code=code, family="low-pressure leak", title=title, purpose=purpose,
        cautions=(
            NEVER_ON_A_PATIENT,
            caution,
            "Never exceed the manufacturer's maximum pressure; release it slowly. Remove test plugs and added leaks "
            "afterwards.",
        ),
        readings=_READINGS, tables=(*_TABLES, *tables), choices=(*_CHOICES, *choices), rated=(),
        results=(*results, *_OTHERS), default_limits=limits,
        source="ideal gas; 40 CFR 1065.644 for the decay; limits as named", evaluate=evaluate, features=features,
        pairs=_PAIRS,
    )  # fmt: skip


MACHINE = _leak_test(
    "low-pressure-leak",
    "Low-pressure system leak",
    "Measure the leak between the flow controls and the common gas outlet{vaporizer|; repeat with each vaporizer on in "
    "turn}.",
    "An outlet check valve hides upstream leaks from a positive-pressure test, which found 28 of 54 leaks; "
    "a suction bulb found 54 of 54 (Anesth Analg 1997; 84: 179-84). With such a valve, or where nobody knows of one, "
    "use suction and enter the pressures as negative numbers.",
    _MACHINE_LIMITS,
    evaluate_machine,
    (_leak_result(MACHINE_LEAK), _VAPORIZERS),
    tables=(_VAPORIZER_TABLE,),
    choices=_MACHINE_CHOICES,
    features=(OUTLET_VALVE,),
)

BREATHING_SYSTEM = _leak_test(
    "breathing-system-leak",
    "Breathing system leak",
    "Measure the leak of the breathing system with the patient end closed.",
    "Open the APL valve afterwards and check that the pressure falls; never leave it closed.",
    _BREATHING_LIMITS,
    evaluate_breathing_system,
    (_leak_result(BREATHING_LEAK),),
)
