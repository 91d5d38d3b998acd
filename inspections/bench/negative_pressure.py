"""Suction-bulb test of the low-pressure system: how long the bulb stays collapsed, with each vaporizer on in turn.

The bulb counts no flow. With its volume, and with the share of it that the eye sees come back, it says how large a leak
would have shown. The leak as a flow is measured by another test (leaks.py).
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

from .challenges import Challenge, NoChallenge, Reason, Unmet, first_unmet
from .declarations import Context, ResultSpec, TableSpec, Test
from .errors import BenchError
from .leak_challenges import LEAST_WATCHED, VAPORIZER_COUNT, has_vaporizers, vaporizer_count
from .limits import SEEN
from .measuring import Bench
from .propagation import Measured, propagate_measured
from .quantities import Dimension, from_si, to_si
from .readings import Sheet
from .results import Evaluation, Result
from .specs import NEVER_ON_A_PATIENT, limit, observation, reading
from .uncertainty import RECTANGULAR

SEEN_SHARE, SEEN_WITHIN = 0.10, 0.05
"""Share of its volume that a bulb has taken back when the eye sees it open, and half width of that.

With a bulb of 50 mL it makes 30 mL/min in 10 s, the figure that textbooks give (from memory). Common practice, no
source.
"""
LEAST_SUCTION = to_si(50, "cmH2O")  # textbooks: about 65 cmH2O (from memory); common practice, no source
DIFFERS = 0.2  # share of the longer time by which two rows differ beyond a hand on a watch; common practice, no source


@dataclass(frozen=True, slots=True)
class Position:
    """One row: the first is with every vaporizer off, the next the first one on. `is_held`: not open when stopped."""

    name: str
    time: Measured
    is_held: bool
    suction: Measured | None

    @property
    def found(self) -> str:
        return f"{'still collapsed' if self.is_held else 'open'} after {self.time.value:.3g} s"


def evaluate_negative_pressure(sheet: Sheet, context: Context) -> Evaluation:
    """Return how long the bulb stayed collapsed, off and with each vaporizer on. Raises BenchError (see Test)."""
    bench = Bench(NEGATIVE_PRESSURE, sheet, context)
    for key in ("bulb_holds", "controls_closed"):
        bench.value(key)
    positions = _positions(bench)
    results: list[Result] = []
    if positions:
        off, on = _off(bench, positions), _on(bench, positions)
        results.append(_hold(bench, "hold_off", off))
        results += [_hold(bench, "hold_vaporizers", on)] if on else []
        bench.remarks += _different(off[0], on)
    return bench.finish([*results, *_equivalents(bench, positions)])


def _positions(bench: Bench) -> list[Position]:
    found = []
    for number, row in bench.rows("positions"):
        suction = row.get("suction")
        opened, watched = row.get("opened"), row["watched"]
        _refuse_times(number, opened, watched)
        if suction is not None:
            suction = replace(suction, value=abs(suction.value))
        found.append(Position(_name(bench, number - 1), opened or watched, opened is None, suction))
    return found


def _name(bench: Bench, number: int) -> str:
    if _is_bare(bench):
        return f"watch {number + 1}"
    return f"vaporizer {number} on" if number else "all vaporizers off"


def _is_bare(bench: Bench) -> bool:
    """Whether the machine is known to have no vaporizer: every row is then one more watch of the same."""
    return "vaporizer" in bench.context.lacks


def _off(bench: Bench, positions: list[Position]) -> list[Position]:
    return positions if _is_bare(bench) else positions[:1]


def _on(bench: Bench, positions: list[Position]) -> list[Position]:
    return [] if _is_bare(bench) else positions[1:]


def _refuse_times(number: int, opened: Measured | None, watched: Measured) -> None:
    if watched.value <= 0 or (opened is not None and opened.value <= 0):
        message = (
            f"Row {number}: 0 s is not possible. Enter how long the bulb was watched and, if it opened, after what."
        )
        raise BenchError(f"positions[{number}].watched", message)
    if opened is not None and opened.value > watched.value * (1 + 1e-9):
        message = (
            f"Row {number}: it opened after {opened.value:.3g} s and was watched for {watched.value:.3g} s. It is "
            "watched at least until it opens."
        )
        raise BenchError(f"positions[{number}].opened", message)


def _shortest(positions: list[Position]) -> Position:
    """Return the position that leaks most: the first to open, else the one that was watched for the shortest time."""
    return min(positions, key=lambda one: (one.is_held, one.time.value))


def _hold(bench: Bench, key: str, positions: list[Position]) -> Result:
    worst = _shortest(positions)
    how = "still collapsed when the watch was stopped" if worst.is_held else "until the bulb was seen to open"
    return bench.result(key, worst.time.estimate, convention=f"time {how}; {worst.name}", remark=_in_words(worst))


def _in_words(position: Position) -> str:
    return f"{position.name[:1].upper()}{position.name[1:]}: {position.found}."


def _different(off: Position, on: list[Position]) -> list[str]:
    """Return a sentence for each vaporizer whose row differs from the one with all off."""
    return [
        f"With {one.name} the bulb was {one.found}, with all off {off.found}: "
        f"{'look at that vaporizer and its seals.' if _is_worse(one, off) else 'repeat both rows.'}"
        for one in on
        if _differs(one, off)
    ]


def _differs(one: Position, off: Position) -> bool:
    if one.is_held and off.is_held:
        return False
    if one.is_held != off.is_held:
        held, opened = (one, off) if one.is_held else (off, one)
        return opened.time.value < held.time.value  # else the other was not watched for long enough to tell
    longer = max(one.time.value, off.time.value)
    return abs(one.time.value - off.time.value) > DIFFERS * longer + 1.0  # 1 s: two presses of a watch


def _is_worse(one: Position, off: Position) -> bool:
    return not one.is_held and (off.is_held or one.time.value < off.time.value)


def _equivalents(bench: Bench, positions: list[Position]) -> list[Result]:
    """Return the leak of the worst row, and that which would just show in 10 s; none without the bulb's volume."""
    volume = bench.value("bulb_volume", needed=False)
    if volume is None:
        return []
    if volume.value <= 0:
        raise BenchError("bulb_volume", "Volume of the bulb: it must be above zero.")
    share = Measured(SEEN_SHARE, own_std=SEEN_WITHIN / 3**0.5, own_excess=RECTANGULAR)
    bench.assume(f"the bulb is seen to open when {SEEN_SHARE:.0%} ± {SEEN_WITHIN:.0%} of its volume has come back "
                 "(common practice, no source).")  # fmt: skip
    just_seen = propagate_measured(lambda v, s: v * s / LEAST_WATCHED, (volume, share))
    results = [bench.result("detectable_leak", just_seen)]
    if positions:
        worst = _shortest(positions)
        leak = propagate_measured(lambda v, s, t: v * s / t, (volume, share, worst.time))
        text = (
            f"{'at most; ' if worst.is_held else ''}by what has come back into the bulb; ambient volume; {worst.name}"
        )
        results.append(bench.result("leak", leak, convention=text))
    return results


# --- what must have been done ---


def _answered(key: str, unknown: str, no: str) -> Callable[[Bench], Unmet | None]:
    def unmet(bench: Bench) -> Unmet | None:
        seen = bench.value(key)
        if seen is None:
            return Unmet(unknown, Reason.NOT_KNOWN, fail_stands=False)
        return None if seen.value == 1 else Unmet(no, fail_stands=False)

    return unmet


_bulb_holds = _answered(
    "bulb_holds",
    "Whether the bulb itself holds is not stated: collapse it with its own port closed and watch it for 30 s.",
    "The bulb does not hold with its own port closed, so that it says nothing of the machine: use another bulb.",
)
_closed = _answered(
    "controls_closed",
    "Whether the flow controls and the master switch were off is not stated.",
    "A flow control or the master switch was on, so that gas filled the bulb: close them and repeat.",
)


def _of_rows(
    rows: Callable[[Bench, list[Position]], list[Position]], check: Callable[[Position], Unmet | None]
) -> Callable[[Bench], Unmet | None]:
    def unmet(bench: Bench) -> Unmet | None:
        return next((found for one in rows(bench, _positions(bench)) if (found := check(one)) is not None), None)

    return unmet


def _long_enough(position: Position) -> Unmet | None:
    if not position.is_held or position.time.value >= LEAST_WATCHED * (1 - 1e-9):
        return None
    why = f"{_in_words(position)} Go on until 10 s have passed, better 15 s."
    return Unmet(why, fail_stands=False)


def _drawn(position: Position) -> Unmet | None:
    if position.suction is None or position.suction.value >= LEAST_SUCTION * (1 - 1e-9):
        return None
    shown = from_si(position.suction.value, "cmH2O")
    why = (
        f"The suction was {shown:.3g} cmH2O with {position.name}: squeeze the bulb until it is flat, 50 cmH2O or more."
    )
    return Unmet(why)


def _each_in_turn(bench: Bench) -> Unmet | None:
    count, tried = vaporizer_count(bench), len(_positions(bench)) - 1
    if count is None:
        return Unmet("How many vaporizers the machine has is not known: choose it.", Reason.NOT_KNOWN)
    if tried >= count:
        return None
    return Unmet(f"{tried} of {count} vaporizers were tested: one row with all off, then one with each turned on.")


_HOLD_OFF = Challenge(
    "a bulb that holds by itself, controls and switch off, watched for 10 s at 50 cmH2O of suction",
    first_unmet(_bulb_holds, _closed, _of_rows(_off, _long_enough), _of_rows(_off, _drawn)),
)
_HOLD_ON = Challenge(
    "the same with each vaporizer on in turn",
    first_unmet(_each_in_turn, _bulb_holds, _closed, _of_rows(_on, _long_enough), _of_rows(_on, _drawn)),
)
_REPORTED = NoChallenge("it is reported only")
_COARSE = "A bulb is too coarse for a limit in mL/min; the flow is judged by the leak test of the low-pressure system."
_HOLDS = ("hold_off", "hold_vaporizers")
_FDA = ("FDA Anesthesia Apparatus Checkout Recommendations, step 5", "1993", SEEN)

NEGATIVE_PRESSURE = Test(
    code="negative-pressure-leak",
    family="low-pressure leak",
    title="Negative-pressure leak, by suction bulb",
    purpose=(
        "Find leaks of the low-pressure system that an outlet check valve hides from positive pressure. Turn off "
        "master switch and flow controls, put the bulb on the common gas outlet, squeeze it until it stays flat and "
        "start the watch{vaporizer|: once with every vaporizer off, then with each turned on alone, for a leak behind "
        "a vaporizer shows only when gas passes it}. Watch for 15 s, so that the watch is no doubt. A kinked tube and "
        "a bulb that was never flat look like a tight machine; a bulb with a worn valve looks like a leak, so try "
        "the bulb first."
    ),
    cautions=(
        NEVER_ON_A_PATIENT,
        "{two-vaporizers|Never turn on two vaporizers at once, and turn each off before the next. }Remove the bulb "
        "afterwards and fit the outlet hose again.",
    ),
    readings=(
        observation("bulb_holds", "Does the bulb stay flat for 30 s with its own port closed?", required=False,
                    asked=True, judges=_HOLDS),
        observation("controls_closed", "Were master switch and flow controls off?", required=False, asked=True,
                    judges=_HOLDS),
        reading("bulb_volume", "Volume of the bulb", Dimension.VOLUME, required=False, unjudged=_COARSE,
                help="what a flat bulb takes up; it gives the leak that would show"),
    ),
    tables=(
        TableSpec("positions", "{vaporizer|Positions of the vaporizers|Watch of the bulb}",
                  (reading("watched", "Time watched", Dimension.TIME, judges=_HOLDS, help="15 s, or until it opened"),
                   reading("opened", "Opened after", Dimension.TIME, required=False, judges=_HOLDS,
                           help="empty if the bulb was still collapsed"),
                   reading("suction", "Suction", Dimension.PRESSURE, first="cmH2O", required=False, judges=_HOLDS,
                           help="below ambient, if a gauge shows it")),
                  1, 3, "{vaporizer|first row: every vaporizer off; then one row for each, from the first place to the "
                  "last, that one alone on|one row}"),
    ),
    choices=(VAPORIZER_COUNT,),
    rated=(),
    results=(
        ResultSpec("hold_off", "Bulb stays collapsed{vaporizer|, vaporizers off}", Dimension.TIME, "s",
                   "until the bulb opened", _HOLD_OFF, needed=True),
        ResultSpec("hold_vaporizers", "Bulb stays collapsed, each vaporizer on in turn", Dimension.TIME, "s",
                   "shortest of all vaporizers", _HOLD_ON, needed=has_vaporizers, needs=("vaporizer",)),
        ResultSpec("leak", "Leak by the bulb", Dimension.FLOW, "mL/min", "of the worst row; ambient volume", _REPORTED,
                   unjudged=_COARSE),
        ResultSpec("detectable_leak", "Least leak that shows in 10 s", Dimension.FLOW, "mL/min", "ambient volume",
                   _REPORTED, unjudged=_COARSE),
    ),
    default_limits=tuple(
        limit(key, "fda93-bulb", "Stays collapsed for 10 s or longer", (10, None), "s", *_FDA) for key in _HOLDS
    ),
    source="FDA 1993 checkout, step 5; Anesth Analg 1997; 84: 179-84 (54 of 54 leaks found by suction)",
    evaluate=evaluate_negative_pressure,
)  # fmt: skip
