"""The APL valve: the pressure that it needs fully open, the pressure at which it opens, and its leak when closed."""

from .challenges import Challenge, NoChallenge, Unmet
from .declarations import Context, ResultSpec, TableSpec, Test
from .errors import BenchError
from .forward_flow import FORWARD_ONLY, forward_curve, forward_pairs
from .impossible import NeverCrosses
from .leak_challenges import BAND, TEST_PRESSURES, brought_to
from .limits import FROM_MEMORY
from .measuring import Bench
from .power_law import law_of, odd_exponent, pressure_at
from .propagation import difference
from .quantities import Dimension, from_si, to_si
from .readings import Sheet
from .results import Evaluation, Result
from .specs import NEVER_ON_A_PATIENT, limit, reading

FLOWS = {"pressure_3": to_si(3, "L/min"), "pressure_30": to_si(30, "L/min")}
LEAK_PRESSURE = TEST_PRESSURES["3 kPa"]


def evaluate_apl(sheet: Sheet, context: Context) -> Evaluation:
    """Return the pressures of the open valve, where it opens at its marks, and its leak. Raises BenchError."""
    bench = Bench(APL, sheet, context)
    pairs = forward_pairs(bench, "open")
    results = [*_open(bench, pairs), *_opening(bench), *_closed(bench)]
    return bench.finish(results, forward_curve(bench, {"open": pairs}, "Pressure of the open valve against flow"))


def _open(bench: Bench, pairs) -> list[Result]:
    law = law_of(pairs)
    if law is not None:
        words = "the exponent of a power law through the readings"
        bench.remarks.append(f"Fully open, {words} is {law.words()}." if law.is_possible() else odd_exponent(law))
    results = []
    for key, target in FLOWS.items():
        found = pressure_at(pairs, target, beyond=False)
        if found is not None:
            spec = bench.test.result_spec(key)
            results.append(bench.result(key, found.estimate, convention=f"{spec.convention}; {found.how}"))
        elif pairs:
            at = f"{from_si(target, 'L/min'):.0f} L/min"
            bench.missing.append(f"Fully open: a reading at {at}, or readings at 2 or more different flows")
    return results


def _flowed(key: str) -> Challenge:
    def unmet(bench: Bench) -> Unmet | None:
        found = pressure_at(forward_pairs(bench, "open"), FLOWS[key], beyond=False)
        return found and found.unmet

    at = f"{from_si(FLOWS[key], 'L/min'):.0f} L/min"
    return Challenge(f"{at} through the open valve, or a flow on either side of it", unmet)


def _opening(bench: Bench) -> list[Result]:
    """Return by how much the valve opens above or below its mark, at the mark where it is farthest off."""
    rows = bench.rows("settings", nominal=("setting",))
    if not rows:
        return []
    errors = [(row["setting"].value, difference(row["opening"], row["setting"])) for _, row in rows]
    mark, worst = max(errors, key=lambda one: abs(one[1].value))
    remark = f"Largest of {len(rows)} settings, at the mark of {from_si(mark, 'cmH2O'):.3g} cmH2O."
    return [bench.result("opening_error", worst, remark=remark)]


def _closed(bench: Bench) -> list[Result]:
    flow, held = bench.value("leak_flow"), bench.value("leak_pressure")
    if (flow is None) != (held is None):
        bench.missing.append("Valve closed: both the flow and the pressure that it holds")
    if flow is None or held is None:
        return []
    if held.value <= 0:
        raise BenchError(
            "leak_pressure",
            f"Pressure held, valve closed: {from_si(held.value, 'kPa'):.3g} kPa holds nothing. Enter the pressure "
            "above zero that the flow holds; where no pressure builds up, the valve is not closed: look at it first.",
        )  # fmt: skip
    way = "in proportion" if held.value < LEAK_PRESSURE else "by the square root"
    text = f"flow that holds {from_si(held.value, 'kPa'):.3g} kPa, scaled to 3 kPa {way}; ambient volume"
    return [bench.result("closed_leak", brought_to(LEAK_PRESSURE, flow, held), convention=text)]


def _held(bench: Bench) -> Unmet | None:
    held = bench.value("leak_pressure")
    if held is None or abs(held.value - LEAK_PRESSURE) <= BAND * LEAK_PRESSURE * (1 + 1e-9):
        return None
    why = f"The pressure held was {from_si(held.value, 'kPa'):.3g} kPa: bring it within {BAND:.0%} of 3 kPa."
    return Unmet(why, fail_stands=held.value < LEAK_PRESSURE)


_ISO, _ASTM = ("ISO 8835-2", "ISO 8835-2", FROM_MEMORY), ("ASTM F1208", "F1208-89", FROM_MEMORY)
_REPLACED = "ISO 80601-2-13 replaced ISO 8835-2; its own figure could not be looked up."
_LIMITS = (
    limit("pressure_30", "iso8835-apl", "0.1 to 0.3 kPa at 30 L/min", (0.1, 0.3), "kPa", *_ISO, note=_REPLACED),
    limit("pressure_30", "f1208-apl", "1 to 5 cmH2O at 30 L/min", (1, 5), "cmH2O", *_ASTM),
    limit("pressure_3", "f1208-apl", "0.5 to 3 cmH2O at 3 L/min", (0.5, 3), "cmH2O", *_ASTM,
          note="With the limit at 30 L/min it asks for a pressure that grows no more than in proportion to the "
               "flow, as that of a disc with a weight or a spring does."),
    limit("closed_leak", "iso8835-apl-leak", "No more than 50 mL/min at 3 kPa", (None, 50), "mL/min", *_ISO,
          note=f"A doubtful figure: confirm it in the standard. {_REPLACED}"),
)  # fmt: skip
_NO_OPENING_LIMIT = (
    "No limit of the opening pressure is published that could be looked up; set one, such as the manufacturer's."
)
_OPEN = ("pressure_3", "pressure_30")

_READINGS = (
    reading("leak_flow", "Flow that holds 3 kPa, valve closed", Dimension.FLOW, first="mL/min", required=False,
            asked=True, judges=("closed_leak",),
            help="close everything but the valve; whatever else leaks in the rig counts as a leak of the valve"),
    reading("leak_pressure", "Pressure held, valve closed", Dimension.PRESSURE, first="cmH2O", required=False,
            asked=True, judges=("closed_leak",)),
)  # fmt: skip
_TABLES = (
    TableSpec(
        "open", "Valve fully open",
        (reading("flow", "Flow", Dimension.FLOW, judges=_OPEN),
         reading("pressure", "Pressure before the valve", Dimension.PRESSURE, first="cmH2O", judges=_OPEN)),
        2, 4, "turned fully open, no scavenging hose on its exhaust; read at 3 and 30 L/min themselves, and at one or "
        "two flows between them", sets=("flow",),
    ),
    TableSpec(
        "settings", "Opening pressure at the marks of the valve",
        (reading("setting", "Mark of the valve", Dimension.PRESSURE, first="cmH2O", stated=True,
                 judges=("opening_error",)),
         reading("opening", "Pressure at which it opens", Dimension.PRESSURE, first="cmH2O",
                 judges=("opening_error",))),
        0, 3, "where the valve has marks: a small flow, about 3 L/min, into the closed system; the pressure at which "
        "it stops rising", sets=("setting",),
    ),
)  # fmt: skip
_RESULTS = (
    ResultSpec("pressure_3", "Pressure at 3 L/min, fully open", Dimension.PRESSURE, "cmH2O",
               "gauge, before the valve, exhaust open to the room", _flowed("pressure_3"), needed=True),
    ResultSpec("pressure_30", "Pressure at 30 L/min, fully open", Dimension.PRESSURE, "kPa",
               "gauge, before the valve, exhaust open to the room", _flowed("pressure_30"), needed=True),
    ResultSpec("opening_error", "Opening pressure above its mark", Dimension.PRESSURE, "cmH2O",
               "opening pressure minus mark, at the mark where it is farthest off",
               NoChallenge("gas that leaves at a pressure shows that the valve has opened at it"),
               unjudged=_NO_OPENING_LIMIT),
    ResultSpec("closed_leak", "Leak when closed", Dimension.FLOW, "mL/min", "at 3 kPa; ambient volume",
               Challenge("3 kPa held before the closed valve", _held), needed=True),
)  # fmt: skip
_PAIRS = (
    NeverCrosses("open", "open", "flow", "pressure", FORWARD_ONLY),
    NeverCrosses("settings", "settings", "setting", "opening",
                 "A valve that is turned towards closed opens at no lower pressure."),
)  # fmt: skip

APL = Test(
    code="apl-valve",
    family="breathing system",
    title="APL valve",
    purpose=(
        "Measure what the APL valve holds back when it is fully open, where it opens at its marks, and what passes it "
        "when it is closed. Send the flow in at the bag port with patient end and all other ports closed, and read the "
        "manometer as near to the valve as possible: the hose to the manometer then carries no flow. A wet or sticky "
        "disc, a valve that is not quite fully open, and a scavenging hose left on are the usual causes of a pressure "
        "that is too high."
    ),
    cautions=(
        NEVER_ON_A_PATIENT,
        "Open the valve fully before a flow is turned on, and turn the flow off before the valve is closed: a closed "
        "system reaches the supply pressure in seconds.",
        "A manometer with steps of 0.1 cmH2O cannot tell 0.5 from 0.6 cmH2O: use one for low pressures, zeroed before.",
    ),
    readings=_READINGS,
    tables=_TABLES,
    choices=(),
    rated=(),
    results=_RESULTS,
    default_limits=_LIMITS,
    source="ISO 8835-2 and ASTM F1208, limits from memory; power law of flow through a fixed passage",
    evaluate=evaluate_apl,
    pairs=_PAIRS,
)
