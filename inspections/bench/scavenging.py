"""The scavenging of waste gas: the flow that the disposal system draws, and the pressures that its relief leaves.

The flow is judged by the kind of disposal system, whose standards state it at the ends of a range of pressure drops.
"""

from .challenges import Challenge, Reason, Unmet
from .declarations import ChoiceSpec, Context, ResultSpec, Test
from .errors import BenchError
from .impossible import NeverAbove
from .limits import COMMON_PRACTICE, FROM_MEMORY, SEEN, Limit
from .measuring import Bench
from .quantities import Dimension, from_si, to_si
from .readings import Sheet
from .results import Evaluation, Result
from .specs import NEVER_ON_A_PATIENT, limit, reading, with_option

UNKNOWN, PASSIVE = "unknown", "passive"
_GAS_CODE = "the commentary of a national medical gas code"


def _band(title: str, ends: tuple[float, float], source: str, edition: str, basis: str, note: str = "") -> Limit:
    return limit("extract_flow", "extract-by-kind", title, ends, "L/min", source, edition, basis, note=note)


BANDS = {
    "bs6834": _band("80 to 130 L/min, at a drop of 1 to 4 kPa", (80, 130), f"BS 6834, quoted in {_GAS_CODE}", "1987",
                    SEEN, "No more than 130 L/min at 1 kPa, no less than 80 at 4 kPa. HTM 02-01 gives the same band "
                    "(from memory)."),
    "iso-high": _band("50 to 80 L/min, at a drop of 1 to 2 kPa", (50, 80), f"ISO 7396-2, quoted in {_GAS_CODE}",
                      "ISO 7396-2", SEEN, "No more than 80 L/min at 1 kPa, no less than 50 at 2 kPa."),
    "iso-low": _band("25 to 50 L/min", (25, 50), "ISO 7396-2, low flow", "ISO 7396-2", FROM_MEMORY),
    UNKNOWN: _band("25 to 130 L/min, the bands of all kinds", (25, 130), "the lowest and the highest of BS 6834 and "
                   "ISO 7396-2", "-", COMMON_PRACTICE),
}  # fmt: skip
DROPS = {"bs6834": (1.0, 4.0), "iso-high": (1.0, 2.0)}  # kPa, the ends at which the standards state the flow
NEARLY = 0.05  # by how much a drop or a flow may miss what is asked for; common practice, no source
LEAST_INFLOW = to_si(35, "L/min")  # the least flow of an oxygen flush, which the relief has to pass
FAULT_FLOW = to_si(75, "L/min")


def evaluate_scavenging(sheet: Sheet, context: Context) -> Evaluation:
    """Return the extract flow and the pressures of the receiving system. Raises BenchError (see Test)."""
    bench = Bench(SCAVENGING, sheet, context)
    for key in ("inflow", "blocked_inflow"):
        bench.value(key)
    results = _extract(bench)
    for key in ("highest_pressure", "lowest_pressure", "blocked_pressure"):
        measured = bench.value(key)
        if measured is not None:
            results.append(bench.result(key, measured.estimate))
    return bench.finish(results)


def _extract(bench: Bench) -> list[Result]:
    kind = bench.choice("kind")
    if kind == PASSIVE:
        return []
    flow, drop = bench.value("extract_flow"), bench.value("extract_drop")
    if flow is None:
        return []
    if drop is not None and drop.value <= 0 < flow.value:
        raise BenchError(
            "extract_drop",
            f"Drop across the flowmeter: {from_si(drop.value, 'kPa'):.3g} kPa drives no flow. Enter the fall of the "
            "pressure across the test device as a number above zero, or leave it empty.",
        )  # fmt: skip
    at = "drop not read" if drop is None else f"at a drop of {from_si(drop.value, 'kPa'):.3g} kPa"
    return [bench.result("extract_flow", flow.estimate, limit=BANDS[kind], convention=f"ambient volume; {at}")]


def _right_drop(bench: Bench) -> Unmet | None:
    kind, drop, flow = bench.choice("kind"), bench.value("extract_drop"), bench.value("extract_flow")
    if kind == UNKNOWN:
        why = "Which kind of disposal system it is, is not known: choose it."
        return Unmet(why, Reason.NOT_KNOWN, fail_stands=flow.value < BANDS[kind].lower_si)
    if kind not in DROPS:
        return None
    low, high = DROPS[kind]
    asked = f"between {low:.0f} and {high:.0f} kPa, for which the flow is stated"
    if drop is None:
        return Unmet(f"The drop was not read: read the flow at one {asked}.", Reason.NOT_KNOWN, fail_stands=False)
    kilopascal = from_si(drop.value, "kPa")
    if low * (1 - NEARLY) <= kilopascal <= high * (1 + NEARLY):
        return None
    too_little = kilopascal < low and flow.value < BANDS[kind].lower_si  # at a larger drop it flows less still
    too_much = kilopascal > high and flow.value > BANDS[kind].upper_si
    why = f"The drop was {kilopascal:.3g} kPa: read the flow at one {asked}."
    return Unmet(why, fail_stands=too_little or too_much)


def _sent_in(key: str, least: float):
    def unmet(bench: Bench) -> Unmet | None:
        flow, shown = bench.value(key), f"{from_si(least, 'L/min'):.0f} L/min"
        if flow is None:
            return Unmet(f"The flow sent in is not stated: send in {shown} or more.", Reason.NOT_KNOWN)
        if flow.value >= least * (1 - NEARLY):
            return None
        return Unmet(f"The flow sent in was {from_si(flow.value, 'L/min'):.3g} L/min: send in {shown} or more.")

    return unmet


def _drawn(bench: Bench) -> Unmet | None:
    flow = bench.value("extract_flow")
    if bench.choice("kind") == PASSIVE or (flow is not None and flow.value > 0):
        return None
    return Unmet("No extract flow was read, so that nothing drew on the system: turn the extract on, and read it.")


_FDA = ("FDA Anesthesia Apparatus Checkout Recommendations, step 8", "1993", SEEN)
_ARTICLE = ("frca.co.uk article 100163, passive receiving system", "-", SEEN)
_CLOSED = ("kenners.org, scavenging, closed receiving system", "-", SEEN)
_BOTH = ("highest_pressure", "lowest_pressure")
_LIMITS = (
    *(limit(key, "receiving-1000-pa", "-0.05 to 1 kPa", (-0.05, 1), "kPa", *_ARTICLE) for key in _BOTH),
    limit("highest_pressure", "fda93", "Below 10 cmH2O", (None, 10), "cmH2O", *_FDA, strict=True),
    limit("lowest_pressure", "fda93", "About 0, read as within 0.5 cmH2O", (-0.5, 0.5), "cmH2O", *_FDA,
          note='It says "about 0"; the suction that other texts give for the relief is used for "about".'),
    *(limit(key, "closed-5-cmh2o", "-0.5 to 5 cmH2O", (-0.5, 5), "cmH2O", *_CLOSED,
            note="Half of the pressure that other texts give: it applies only where a procedure or a site names it.")
      for key in _BOTH),
    limit("blocked_pressure", "iso80601-20-hpa", "No more than 20 hPa at 75 L/min", (None, 20), "hPa",
          "ISO 80601-2-13, quoted in the notice of an accessory (secondary)", "ISO 80601-2-13", SEEN,
          note="Older text gives 1.5 kPa (ISO 8835-3, from memory, doubtful)."),
)  # fmt: skip


_DRAWN = with_option("kind", UNKNOWN, *DROPS, "iso-low")


def _pressure(key: str, label: str, help: str, **more):
    return reading(key, label, Dimension.PRESSURE, first="cmH2O", judges=(key,), help=help, **more)


SCAVENGING = Test(
    code="scavenging",
    family="scavenging",
    title="Waste gas scavenging",
    purpose=(
        "Measure the flow that the disposal system draws from the receiving system, and the highest and the lowest "
        "pressure that the relief leaves at the machine. Read the pressures at the 30 mm connection of the machine or "
        "at the closed Y-piece with the APL valve open. Lint on the screens of the interface, a relief that sticks, a "
        "hose under a wheel and a needle valve opened too far are what usually is wrong."
    ),
    cautions=(
        NEVER_ON_A_PATIENT,
        "Block the extract only for the moment of the reading, and watch the manometer: where the relief sticks, the "
        "pressure rises at once.",
        "Do not draw on a breathing system with a vacuum made for suction: without a relief it empties the lungs.",
    ),
    readings=(
        reading("extract_flow", "Extract flow", Dimension.FLOW, required=False, asked=True,
                judges=("extract_flow", "lowest_pressure"), help="at the disposal outlet, through a test device with a "
                "flowmeter", wanted=_DRAWN),
        reading("extract_drop", "Drop across the flowmeter", Dimension.PRESSURE, first="kPa", required=False,
                asked=True, judges=("extract_flow",), help="1 to 4 kPa for BS 6834, 1 to 2 kPa for ISO 7396-2",
                wanted=_DRAWN),
        _pressure("highest_pressure", "Highest pressure", "oxygen flush on, reservoir full, extract on"),
        reading("inflow", "Flow sent in", Dimension.FLOW, required=False, asked=True, judges=("highest_pressure",),
                help="that of the flush, as measured for it"),
        _pressure("lowest_pressure", "Lowest pressure", "the least oxygen flow, reservoir collapsed, extract on: enter "
                  "suction as a negative number"),
        _pressure("blocked_pressure", "Pressure with the extract blocked", "75 L/min sent in, extract hose closed",
                  required=False),
        reading("blocked_inflow", "Flow sent in, extract blocked", Dimension.FLOW, required=False,
                judges=("blocked_pressure",)),
    ),
    tables=(),
    choices=(
        ChoiceSpec("kind", "Disposal system", (
            (UNKNOWN, "not known"), ("bs6834", "BS 6834, HTM 02-01"), ("iso-high", "ISO 7396-2, high flow"),
            ("iso-low", "ISO 7396-2, low flow"), (PASSIVE, "passive: a hose without extract")), UNKNOWN),
    ),
    rated=(),
    results=(
        ResultSpec("extract_flow", "Extract flow", Dimension.FLOW, "L/min", "ambient volume",
                   Challenge("the kind of disposal system known, and a drop for which its flow is stated", _right_drop),
                   needed=lambda bench: bench.choice("kind") != PASSIVE, own_limit=True),
        ResultSpec("highest_pressure", "Highest pressure", Dimension.PRESSURE, "kPa", "gauge, at the machine",
                   Challenge("35 L/min or more sent in", _sent_in("inflow", LEAST_INFLOW)), needed=True),
        ResultSpec("lowest_pressure", "Lowest pressure", Dimension.PRESSURE, "kPa",
                   "gauge, at the machine; suction is negative",
                   Challenge("the extract drawing, where there is one", _drawn), needed=True),
        ResultSpec("blocked_pressure", "Pressure with the extract blocked", Dimension.PRESSURE, "hPa",
                   "gauge, at the machine; a single fault",
                   Challenge("75 L/min sent in, extract blocked", _sent_in("blocked_inflow", FAULT_FLOW))),
    ),
    default_limits=_LIMITS,
    source="BS 6834, ISO 7396-2, ISO 80601-2-13 (quoted); FDA 1993 checkout, step 8; relief pressures as named",
    evaluate=evaluate_scavenging,
    pairs=(NeverAbove(("lowest_pressure", ""), ("highest_pressure", ""),
                      "The pressure with gas sent in is no lower than that without."),),
)  # fmt: skip
