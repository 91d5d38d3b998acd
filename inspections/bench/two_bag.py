"""The two-bag test: a bag at the patient end beside the one of the machine, and gas moved to and fro between them."""

from .challenges import Challenge, Reason, Unmet, first_unmet
from .declarations import Context, ReadingSpec, ResultSpec, Test
from .limits import COMMON_PRACTICE, SEEN
from .measuring import Bench
from .quantities import Dimension, from_si, to_si
from .readings import Sheet
from .results import Evaluation
from .specs import NEVER_ON_A_PATIENT, limit, observation, reading

LEAST_FLOW, MOST_FLOW = to_si(5, "L/min"), to_si(10, "L/min")
NEARLY = 0.1  # by how much the fresh gas flow may miss 5 L/min; common practice, no source
SEEN_KEYS = {
    "flows_both_ways": ("Gas moves freely both ways", "Do both bags fill and empty freely, each way?",
                        "squeeze one and then the other, by hand"),
    "valves_move": ("Both one-way valves move", "Do both one-way valves lift and fall back, without sticking?",
                    "watch the discs through their domes, wet and dry"),
    "apl_releases": ("APL valve releases", "With both bags squeezed, does the APL valve release over its range?",
                     "from open to nearly closed: neither stuck nor always open"),
    "volume_kept": ("No volume is lost", "With the ventilator on, do the bags keep their volume with little fresh gas?",
                    "{vaporizer|open and close each vaporizer in turn meanwhile|watch them for a minute}"),
}  # fmt: skip
"""By key: label of the result, the question, and how to look."""


def evaluate_two_bag(sheet: Sheet, context: Context) -> Evaluation:
    """Return what was seen of the bags, and the pressure that is left between breaths."""
    bench = Bench(TWO_BAG, sheet, context)
    bench.value("fresh_gas", nominal=True)
    results = []
    for key in (*SEEN_KEYS, "rest_pressure"):
        found = bench.value(key)
        if found is not None:
            results.append(bench.result(key, found.estimate))
    return bench.finish(results)


def _gas_flowed(bench: Bench) -> Unmet | None:
    flow = bench.value("fresh_gas", nominal=True)
    if flow is None:
        return Unmet("The fresh gas flow is not stated: set 5 L/min.", Reason.NOT_KNOWN)
    if LEAST_FLOW * (1 - NEARLY) <= flow.value <= MOST_FLOW * (1 + 1e-9):
        return None
    return Unmet(f"The fresh gas flow was {from_si(flow.value, 'L/min'):.3g} L/min: set 5 to 10 L/min.")


def _bags_moved(bench: Bench) -> Unmet | None:
    moved = bench.value("flows_both_ways")
    if moved is not None and moved.value == 1:
        return None
    return Unmet("Gas did not move both ways, or that is not stated, so that nothing passed valves and APL valve.")


_AAGBI = ("Checking Anaesthetic Equipment, Anaesthesia 2012; 67: 660-68, two-bag test", "2012", SEEN)
_FDA = "FDA Anesthesia Apparatus Checkout Recommendations, step 12: no sustained pressure"
_FLOWED = Challenge("5 to 10 L/min of fresh gas", _gas_flowed)
_MOVED = Challenge("5 to 10 L/min of fresh gas, moved both ways", first_unmet(_gas_flowed, _bags_moved))


def _question(key: str) -> ReadingSpec:
    _, question, how = SEEN_KEYS[key]
    judges = tuple(SEEN_KEYS) if key == "flows_both_ways" else (key,)
    is_first = key == "flows_both_ways"
    return observation(key, question, required=is_first, asked=not is_first, judges=judges, help=how, needs=_needs(key))


def _needs(key: str) -> tuple[str, ...]:
    return ("ventilator",) if key == "volume_kept" else ()


def _seen(key: str) -> ResultSpec:
    challenge = _FLOWED if key == "flows_both_ways" else _MOVED
    return ResultSpec(key, SEEN_KEYS[key][0], Dimension.OBSERVATION, "yes/no", "as seen", challenge, needed=True,
                      needs=_needs(key))  # fmt: skip


TWO_BAG = Test(
    code="two-bag",
    family="breathing system",
    title="Two-bag test",
    purpose=(
        "Move gas between the bag of the machine and a second bag at the patient end, by hand{ventilator| and then by "
        "the ventilator}. Do it after the leak tests, with everything connected as it is used: it finds what tests of "
        "single components miss, such as a hose that is blocked or crossed, a valve put in upside down"
        "{ventilator| and a ventilator that does not take over. With an end-expiratory pressure of zero set, read "
        "what pressure is left between breaths}."
    ),
    cautions=(
        NEVER_ON_A_PATIENT,
        "Squeeze gently, and watch the pressure gauge: with the APL valve stuck the pressure rises at once.",
        "Take the second bag off at the end, and set fresh gas{ventilator|, APL valve and selector| and APL valve} "
        "back.",
    ),
    readings=(
        reading("fresh_gas", "Fresh gas flow", Dimension.FLOW, required=False, asked=True, stated=True,
                judges=(*SEEN_KEYS, "rest_pressure"), help="5 L/min"),
        *(_question(key) for key in SEEN_KEYS),
        reading("rest_pressure", "Pressure left between breaths", Dimension.PRESSURE, first="cmH2O", required=False,
                asked=True, judges=("rest_pressure",), help="ventilator on, end-expiratory pressure set to zero",
                needs=("ventilator",)),
    ),
    tables=(),
    choices=(),
    rated=(),
    results=(
        *(_seen(key) for key in SEEN_KEYS),
        ResultSpec("rest_pressure", "Pressure left between breaths", Dimension.PRESSURE, "cmH2O",
                   "gauge, at the end of the expiration", _FLOWED, needed=True, needs=("ventilator",)),
    ),
    default_limits=(
        *(limit(key, "must-be-yes", label, (1, None), "yes/no", *_AAGBI) for key, (label, _, _) in SEEN_KEYS.items()),
        limit("rest_pressure", "rest-3-cmh2o", "-1 to 3 cmH2O", (-1, 3), "cmH2O", f"{_FDA} (the figure is common "
              "practice)", "1993", COMMON_PRACTICE, note="A hanging bellows draws a little below zero, the weight of a "
              "standing one leaves 2 to 3 cmH2O."),
    ),
    source="Anaesthesia 2012; 67: 660-68; FDA 1993 checkout, step 12",
    evaluate=evaluate_two_bag,
)  # fmt: skip
