"""The carbon dioxide absorber: what it lets through, what it costs in pressure, and how its canister was left."""

from .challenges import Challenge, NoChallenge, Reason, Unmet
from .declarations import ChoiceSpec, Context, ReadingSpec, ResultSpec, TableSpec, Test
from .forward_flow import FORWARD_ONLY, forward_curve, forward_pairs
from .impossible import NeverAbove, NeverCrosses
from .limits import COMMON_PRACTICE, FROM_MEMORY
from .measuring import Bench
from .power_law import pressure_at
from .quantities import Dimension, from_si, to_si
from .readings import Sheet
from .results import Evaluation
from .specs import NEVER_ON_A_PATIENT, limit, reading, with_option

FULL_FLOW = to_si(60, "L/min")
LEAST_EXPIRED = to_si(4, "%")
"""Carbon dioxide that a patient breathes out, at the least: about 4 kPa. Common practice, no source."""
FITTED, NONE_FITTED = "fitted", "none"
SEEN_KEYS = {
    "sealed": ("Canister is sealed", "Is the canister closed, with its seals clean and in place?"),
    "colour_fresh": ("Colour is that of fresh absorbent", "Is the absorbent without the colour of exhaustion?"),
    "bypass_shut": ("Bypass is shut", "Is the bypass shut, so that all gas passes the absorbent?"),
}


def evaluate_absorber(sheet: Sheet, context: Context) -> Evaluation:
    """Return inspired carbon dioxide, pressure at 60 L/min, and how the canister was left. Raises BenchError."""
    bench = Bench(ABSORBER, sheet, context)
    bench.value("expired")
    results = []
    for key in ("inspired", *SEEN_KEYS, "age"):
        found = None if key == "bypass_shut" and not _has_bypass(bench) else bench.value(key)
        if found is not None:
            results.append(bench.result(key, found.estimate))
    pairs = forward_pairs(bench, "through")
    if found := pressure_at(pairs, FULL_FLOW, beyond=True):
        spec = bench.test.result_spec("resistance")
        results.append(bench.result("resistance", found.estimate, convention=f"{spec.convention}; {found.how}"))
    judge = bench.limit("resistance")
    return bench.finish(results, forward_curve(bench, {"through": pairs}, "Pressure against flow", judge))


def _has_bypass(bench: Bench) -> bool:
    return bench.choice("bypass") == FITTED


def _was_fed(bench: Bench) -> Unmet | None:
    expired = bench.value("expired")
    if expired is None:
        why = "What carbon dioxide the absorber was given is not stated: send in 4 % or more, and read it before."
        return Unmet(why, Reason.NOT_KNOWN)
    if expired.value >= LEAST_EXPIRED * (1 - 1e-9):
        return None
    shown = f"{from_si(expired.value, '%'):.2g} %"
    return Unmet(f"The gas before the absorber held {shown} of carbon dioxide: send in 4 % or more.")


def _law_holds(bench: Bench) -> Unmet | None:
    found = pressure_at(forward_pairs(bench, "through"), FULL_FLOW, beyond=True)
    return found and found.unmet


_PRACTICE = ("common practice, no source", "-", COMMON_PRACTICE)
_TRADE = "An absorbent is changed by its colour and by inspired carbon dioxide."


def _question(key: str) -> ReadingSpec:
    wanted = with_option("bypass", FITTED) if key == "bypass_shut" else ()
    return ReadingSpec(
        key, SEEN_KEYS[key][1], Dimension.OBSERVATION, None, ("yes/no",), required=not wanted,
        needs_instrument=False, judges=(key,), asked=bool(wanted), wanted=wanted,
    )  # fmt: skip


def _seen(key: str) -> ResultSpec:
    because = NoChallenge("how the canister was left is what was looked at")
    needed = _has_bypass if key == "bypass_shut" else True
    return ResultSpec(key, SEEN_KEYS[key][0], Dimension.OBSERVATION, "yes/no", "as seen", because, needed=needed)


ABSORBER = Test(
    code="absorber",
    family="breathing system",
    title="Carbon dioxide absorber",
    purpose=(
        "Send carbon dioxide through the absorber and read what comes out, measure the pressure that a flow through it "
        "needs, and look how the canister was left. Ventilate a test lung that is fed 200 mL/min of carbon dioxide for "
        "some minutes, and read the gas before the absorber and in the inspiratory limb. Seals with grains on "
        "them, a bypass left open, a canister packed with a channel along its wall, and absorbent dried out by a "
        "flow left on over a weekend are what usually is wrong; the colour alone misses the last two."
    ),
    cautions=(
        NEVER_ON_A_PATIENT,
        "Absorbent burns skin and eyes: gloves and goggles, and no dust into the hoses.",
        "Change absorbent that may have dried out, whatever its colour{vaporizer|: with some agents it makes carbon "
        "monoxide and heat}. Repeat the leak test of the breathing system after the canister was open.",
    ),
    readings=(
        reading("inspired", "Carbon dioxide inspired", Dimension.FRACTION, required=False, asked=True,
                judges=("inspired",), help="in the inspiratory limb, once it is steady"),
        reading("expired", "Carbon dioxide before the absorber", Dimension.FRACTION, required=False, asked=True,
                judges=("inspired",), help="4 to 6 %"),
        *(_question(key) for key in SEEN_KEYS),
        reading("age", "Time since the absorbent was changed", Dimension.TIME, first="d", required=False,
                unjudged=_TRADE, help="by the date on the canister"),
    ),
    tables=(
        TableSpec("through", "Pressure through the absorber", (
            reading("flow", "Flow", Dimension.FLOW, judges=("resistance",)),
            reading("pressure", "Pressure across the absorber", Dimension.PRESSURE, first="cmH2O",
                    judges=("resistance",))),
            0, 2, "60 L/min where the supply gives it, else two lower flows, one about twice the other",
            is_expected=True, sets=("flow",)),
    ),
    choices=(
        ChoiceSpec("bypass", "Bypass of the absorber", ((FITTED, "fitted"), (NONE_FITTED, "none")), FITTED),
    ),
    rated=(),
    results=(
        ResultSpec("inspired", "Carbon dioxide inspired", Dimension.FRACTION, "%", "as the analyser shows it",
                   Challenge("4 % or more of carbon dioxide sent into the absorber", _was_fed), needed=True),
        ResultSpec("resistance", "Pressure at 60 L/min", Dimension.PRESSURE, "kPa",
                   "difference across what lies between the two taps",
                   Challenge("60 L/min through the absorber, or lower flows whose pressures follow one power law",
                             _law_holds), needed=True),
        *(_seen(key) for key in SEEN_KEYS),
        ResultSpec("age", "Age of the absorbent", Dimension.TIME, "d", "by the date on the canister",
                   NoChallenge("a date was read"), unjudged=_TRADE),
    ),
    default_limits=(
        limit("inspired", "inspired-co2-0.5", "No more than 0.5 %", (None, 0.5), "%", *_PRACTICE,
              note="About 0.5 kPa or 4 mmHg at sea level, at which an absorbent is changed."),
        limit("resistance", "iso8835-resistance", "No more than 0.6 kPa at 60 L/min", (None, 0.6), "kPa",
              "ISO 8835-2", "ISO 8835-2", FROM_MEMORY, note="Of the whole limb of the circle, each way."),
        *(limit(key, "must-be-yes", label, (1, None), "yes/no", *_PRACTICE) for key, (label, _) in SEEN_KEYS.items()),
    ),
    source="ISO 8835-2, limit from memory; power law of flow through a fixed passage; common practice, no source",
    evaluate=evaluate_absorber,
    pairs=(
        NeverAbove(("inspired", ""), ("expired", ""), "An absorber gives back no more carbon dioxide than it gets."),
        NeverCrosses("through", "through", "flow", "pressure", FORWARD_ONLY),
    ),
)  # fmt: skip
