"""What keeps a vaporizer from giving too much or the wrong vapour: exclusion, filler, and vapour with the dials off.

A vaporizer that was tipped, or filled with another agent, is judged after it was purged, and not before.
"""

from collections.abc import Callable

from .challenges import Challenge, NoChallenge, Reason, Unmet, first_unmet
from .declarations import ChoiceSpec, Context, ReadingSpec, ResultSpec, TableSpec, Test
from .errors import BenchError
from .impossible import NeverAbove
from .limits import COMMON_PRACTICE, FROM_MEMORY, Limit
from .measuring import Bench, Row
from .quantities import Dimension, from_si
from .readings import Sheet
from .results import Evaluation, Result
from .specs import NEVER_ON_A_PATIENT, limit, observation, reading, with_option
from .uncertainty import Estimate
from .vaporizer_positions import (
    exclusion_of,
    listed_pairs,
    pairs_untried,
    position_count,
    tried_pairs,
    whole_number,
)
from .vapour import off_limits

UNKNOWN, USUAL, TIPPED, OTHER_AGENT = "unknown", "usual", "tipped", "other agent"
KEYED = "keyed-filler"
_NOT_KEYED = "The record says that no keyed filler is fitted."
FILLERS = {
    "filler_accepts": ("accepts", "takes the adapter of its own agent", "does not take its own adapter"),
    "filler_refuses": ("refuses", "refuses the adapters of other agents", "takes the adapter of another agent"),
    "filler_tight": ("tight", "is tight while it is filled and when it is closed", "leaks"),
}
"""By result: its column, and what a filler does that passes and one that does not."""


def evaluate_safety(sheet: Sheet, context: Context) -> Evaluation:
    """Return exclusion, fillers, vapour with the dials off, and the purge where one is due. Raises BenchError."""
    bench = Bench(SAFETY, sheet, context)
    results = [*_purge(bench), *_off_leak(bench), *_exclusion(bench), *_fillers(bench)]
    return bench.finish(results)


def _is_upset(bench: Bench) -> bool:
    return bench.choice("state") in (TIPPED, OTHER_AGENT)


def _purge(bench: Bench) -> list[Result]:
    if not _is_upset(bench):
        return []
    results = []
    if (time := bench.value("purge_time")) is not None:
        results.append(bench.result("purge_time", time.estimate))
    if (flow := bench.value("purge_flow", nominal=True)) is not None:
        results.append(bench.result("purge_flow", bench.tube(flow, "Flow of the purge").estimate))
    drained = bench.value("drained") if bench.choice("state") == OTHER_AGENT else None
    return results if drained is None else [*results, bench.result("drained", drained.estimate)]


def _off_leak(bench: Bench) -> list[Result]:
    bench.value("on_output")
    off = bench.value("off_leak")
    return [] if off is None else [bench.result("off_leak", off.estimate)]


def _exclusion(bench: Bench) -> list[Result]:
    count, tried = position_count(bench), tried_pairs(bench)
    if count is not None and count < 2:
        bench.remarks.append("The machine has one position for a vaporizer at most: there is no pair to exclude.")
        return []
    if not tried:
        return []
    found, open_pairs = exclusion_of(tried)
    remark = f"Both can be on: positions {listed_pairs(open_pairs)}." if open_pairs else ""
    return [bench.result("exclusion", found, remark=remark, convention=_of_pairs(count, len(tried)))]


def _of_pairs(count: int | None, tried: int) -> str:
    of = "an unknown number" if count is None else f"{count * (count - 1) // 2}"
    return f"as seen; {tried} of {of} pairs tried, each in both orders"


def _rows_by_position(bench: Bench) -> list[tuple[int, Row]]:
    """Return position and row of every filler. Raises BenchError for a position that has two rows."""
    found: dict[int, Row] = {}
    for number, row in bench.rows("fillers", nominal=("position",)):
        where = f"fillers[{number}].position"
        position = whole_number(row["position"].value, where, f"Fillers, row {number}")
        if position in found:
            raise BenchError(where, f"Row {number}: position {position} has a row already. Remove one of the two.")
        found[position] = row
    return sorted(found.items())


def _fillers(bench: Bench) -> list[Result]:
    rows, results = _rows_by_position(bench), []
    for key, (column, _, fault) in FILLERS.items():
        if not rows:
            continue
        at = [position for position, row in rows if not row[column].value]
        remark = f"The filler {fault}: position {', '.join(map(str, at))}." if at else ""
        unjudged = "" if key == "filler_tight" or _is_keyed(bench) else _NOT_KEYED
        results.append(bench.result(key, Estimate(0.0 if at else 1.0), remark=remark, unjudged=unjudged))
    return results


def _is_keyed(bench: Bench) -> bool:
    return bench.context.features.get(KEYED) != "not fitted"


def _purged(fail_stands: bool) -> Callable[[Bench], Unmet | None]:
    def unmet(bench: Bench) -> Unmet | None:
        if bench.choice("state") == UNKNOWN:
            why = "Whether a vaporizer was tipped or filled with another agent is not known: choose it."
            return Unmet(why, Reason.NOT_KNOWN, fail_stands)
        if not _is_upset(bench) or _was_purged(bench):
            return None
        return Unmet(_purge_demanded(bench), fail_stands=fail_stands)

    return unmet


def _was_purged(bench: Bench) -> bool:
    time, flow, drained = bench.value("purge_time"), bench.value("purge_flow", nominal=True), bench.value("drained")
    if time is None or flow is None:
        return False
    done = {"purge_time": time.value, "purge_flow": flow.value}
    enough = all(value >= bench.limit(key).lower_si * (1 - 1e-9) for key, value in done.items())
    return enough and (bench.choice("state") != OTHER_AGENT or (drained is not None and drained.value == 1))


def _purge_demanded(bench: Bench) -> str:
    least = {key: bench.limit(key).lower_si for key in ("purge_time", "purge_flow")}
    how = f"{from_si(least['purge_time'], 'min'):.3g} min at {from_si(least['purge_flow'], 'L/min'):.3g} L/min or more"
    if bench.choice("state") == OTHER_AGENT:
        return f"It was filled with another agent: drain it, purge it for {how}, and enter all three; judge it then."
    return f"It was tipped: purge it for {how}, and enter both; judge it then."


def _analyser_saw(bench: Bench) -> Unmet | None:
    on, off = bench.value("on_output"), bench.value("off_leak")
    if on is not None and off is not None and on.value > off.value:
        return None
    return Unmet("The analyser showed no more vapour with a dial on: without a sample it reads 0 as well.")


def _all_tried(bench: Bench) -> Unmet | None:
    recorded, tried = bench.context.vaporizers, {position for position, _ in _rows_by_position(bench)}
    if recorded is None or len(tried) >= recorded:
        return None
    return Unmet(f"{len(tried)} of {recorded} fillers were tried: try that of every vaporizer.")


def _minimum(key: str, rule: str, words: str, low: float, unit: str, *source: str, note: str) -> Limit:
    return limit(key, rule, words, (low, None), unit, *source, note=note)


def _yes(key: str, title: str, *source: str) -> Limit:
    return limit(key, "must-be-yes", title, (1, None), "yes/no", *source)


_RAIL = ("ISO 8835-4, ASTM F1850", "ISO 8835-4", FROM_MEMORY)
_FILLING = ("ISO 5360", "ISO 5360", FROM_MEMORY)
_PRACTICE = ("common practice, no source", "-", COMMON_PRACTICE)
_LIMITS = (
    *off_limits("off_leak"),
    _yes("exclusion", "Only one can be on", *_RAIL),
    _yes("filler_accepts", "Takes its own adapter", *_FILLING),
    _yes("filler_refuses", "Refuses other adapters", *_FILLING),
    _yes("filler_tight", "No liquid leaks", *_PRACTICE),
    _yes("drained", "Drained before the purge", *_PRACTICE),
    _minimum("purge_time", "purge-30-min", "At least 30 min", 30, "min", "US anaesthesia textbooks: 20 to 30 min", "-",
             FROM_MEMORY, note="The longer end of what is printed. The manufacturer's time comes first; none can be "
                               "computed, since rubber and plastic hold vapour."),
    _minimum("purge_flow", "purge-5-l-min", "At least 5 L/min", 5, "L/min", *_PRACTICE,
             note='Textbooks say "a high flow" without a figure. The manufacturer\'s comes first.'),
)  # fmt: skip

_PURGED = ("off_leak", "exclusion", *FILLERS)
_UPSET = with_option("state", TIPPED, OTHER_AGENT)


def _asked(key: str, label: str, judges: tuple[str, ...], help: str = "") -> ReadingSpec:
    return observation(key, label, judges=judges, help=help)


def _position(key: str, label: str, judges: tuple[str, ...]) -> ReadingSpec:
    return reading(key, label, Dimension.POSITION, stated=True, judges=judges, help="counted from the left")


_TABLES = (
    TableSpec("pairs", "Pairs of positions", (
        _position("first", "Position", ("exclusion",)), _position("second", "And position", ("exclusion",)),
        _asked("second_opens", "Can the second be turned on while the first is on?", ("exclusion",)),
        _asked("first_opens", "Can the first be turned on while the second is on?", ("exclusion",))),
        0, 3, "a row for every pair of positions, an empty position included as it is used", is_expected=True,
        sets=("first", "second")),
    TableSpec("fillers", "Fillers", (
        _position("position", "Position", tuple(FILLERS)),
        _asked("accepts", "Does it take the adapter of its own agent?", ("filler_accepts",)),
        _asked("refuses", "Does it refuse the adapters of other agents?", ("filler_refuses",)),
        _asked("tight", "Is it tight while it is filled, and closed?", ("filler_tight",))),
        1, 2, "a row for every vaporizer", sets=("position",)),
)  # fmt: skip


def _filler(key: str, needed: bool | Callable[[Bench], bool]) -> ResultSpec:
    return ResultSpec(
        key, f"Every filler {FILLERS[key][1]}", Dimension.OBSERVATION, "yes/no", "as seen, of all fillers tried",
        Challenge("no vaporizer in need of a purge, and every filler tried", first_unmet(_purged(True), _all_tried)),
        needed=needed,
    )  # fmt: skip


SAFETY = Test(
    code="vaporizer-safety",
    family="vaporizers",
    title="Vaporizer safety",
    purpose=(
        "Try to turn on two vaporizers at once at every pair of positions, try each filler with the adapters of other "
        "agents, and look for vapour at the outlet with all dials off. Fit every vaporizer as it is used, and leave a "
        "position empty that is left empty: some rails lock neighbours only. For the vapour run 4 to 6 L/min of "
        "oxygen, read the analyser with one dial on to see that it answers, then all off, and wait until it is steady."
    ),
    cautions=(
        NEVER_ON_A_PATIENT,
        "Do not force a dial that is locked. Turn no vaporizer on that was tipped: liquid in the bypass gives many "
        "times what the dial says.",
        "Purge, drain and fill only where the vapour is carried away; the flow of a purge goes "
        "{scavenging|into the scavenging|outdoors}.",
        "What commonly goes wrong: a rail tried in one order only, a vaporizer not locked on its rail, an adapter "
        "forced into a worn keyway, and a bottle that leaks taken for a filler that does.",
    ),
    readings=(
        reading("positions", "Positions for vaporizers", Dimension.POSITION, required=False, stated=True,
                judges=("exclusion",), help="also those that are empty; needed where the record has no vaporizers"),
        reading("on_output", "Vapour with one dial on", Dimension.FRACTION, required=False, asked=True,
                judges=("off_leak",), help="at any setting, by the same analyser"),
        reading("off_leak", "Vapour with every dial off", Dimension.FRACTION, required=False, asked=True,
                judges=("off_leak",), help="at the outlet, once the reading is steady"),
        reading("purge_time", "Time of the purge", Dimension.TIME, first="min", required=False, asked=True,
                judges=("purge_time", *_PURGED), wanted=_UPSET, help="dial at a low setting after tipping"),
        reading("purge_flow", "Flow of the purge", Dimension.FLOW, required=False, asked=True, stated=True,
                judges=("purge_flow", *_PURGED), wanted=_UPSET),
        ReadingSpec("drained", "Was the wrong agent drained before the purge?", Dimension.OBSERVATION, None,
                    ("yes/no",), required=False, needs_instrument=False, judges=("drained", *_PURGED), asked=True,
                    wanted=with_option("state", OTHER_AGENT)),
    ),
    tables=_TABLES,
    choices=(
        ChoiceSpec("state", "Since the last purge", (
            (UNKNOWN, "not known"), (USUAL, "upright, own agent"), (TIPPED, "one was tipped"),
            (OTHER_AGENT, "another agent in one")), UNKNOWN),
    ),
    rated=(),
    results=(
        ResultSpec("exclusion", "Only one vaporizer can be on", Dimension.OBSERVATION, "yes/no",
                   "as seen, each pair in both orders",
                   Challenge("every pair of positions tried in both orders",
                             first_unmet(_purged(True), pairs_untried)),
                   needed=lambda bench: position_count(bench) is None or position_count(bench) > 1),
        _filler("filler_accepts", _is_keyed),
        _filler("filler_refuses", _is_keyed),
        _filler("filler_tight", True),
        ResultSpec("off_leak", "Vapour with every dial off", Dimension.FRACTION, "%", "as the analyser shows it",
                   Challenge("more vapour read by the same analyser with a dial on",
                             first_unmet(_purged(False), _analyser_saw)), needed=True),
        ResultSpec("purge_time", "Time of the purge", Dimension.TIME, "min", "as timed",
                   NoChallenge("the time that it lasted is what was done"), needed=_is_upset),
        ResultSpec("purge_flow", "Flow of the purge", Dimension.FLOW, "L/min", "as set",
                   NoChallenge("the flow that was set is what was done"), needed=_is_upset),
        ResultSpec("drained", "Drained before the purge", Dimension.OBSERVATION, "yes/no", "as done",
                   NoChallenge("who drained it says so"), needed=lambda bench: bench.choice("state") == OTHER_AGENT),
    ),
    default_limits=_LIMITS,
    source="ISO 8835-4, ASTM F1850, ISO 5360 and textbooks for the purge, all from memory",
    evaluate=evaluate_safety,
    features=(KEYED,),
    pairs=(NeverAbove(("off_leak", ""), ("on_output", ""), "A vaporizer gives less vapour off than on."),),
)  # fmt: skip
