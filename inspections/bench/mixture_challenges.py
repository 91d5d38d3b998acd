"""What must have been done to a machine for the results of a mixture test to mean anything."""

from .challenges import Challenge, Reason, Unmet, first_unmet
from .measuring import Bench, Row
from .mixture_flows import (
    contradiction,
    grid_rows,
    is_excess,
    is_moved,
    mixed_rows,
    moves_clearly,
    oxygen_flow,
    set_and_measured,
    share_set,
    telling_rows,
)
from .quantities import to_si


def asked_too_much(bench: Bench) -> Unmet | None:
    """The other gas was offered in such excess that a protection had to act."""
    rows = [row for _, row in grid_rows(bench)]
    if not rows or any(is_excess(row) for row in rows):
        return None
    asked = min((share for row in rows if (share := share_set(row)) is not None), default=None)
    words = "no other gas was set" if asked is None else f"the least oxygen asked for was {asked:.0%}"
    return Unmet(f"Nothing had to be limited: {words}. Set four times as much of the other gas as of oxygen, or more.")


def agree(bench: Bench) -> Unmet | None:
    """The analyser and the flows do not contradict each other."""
    for number, row in grid_rows(bench):
        if words := contradiction(bench, number, row):
            return Unmet(words, Reason.CONTRADICTED)
    return None


def _has_own_reference(row: Row) -> bool:
    """Whether the fraction of a row rests on a flowmeter of the machine itself."""
    return "oxygen_fraction" not in row and not (oxygen_flow(row).instrument and row["other_flow"].instrument)


def measured_apart(bench: Bench) -> Unmet | None:
    """The lowest fraction, asked for where there is one, rests on an analyser or on instruments, not on the machine."""
    number, row, _ = min(mixed_rows(bench, grid_rows(bench)), key=lambda one: one[2].value)
    if not _has_own_reference(row):
        return None
    why = (
        f"Row {number} rests on the machine's own flowmeter, which is under test: one that reads wrongly would "
        "agree with itself. Read an oxygen analyser, or both flows with an instrument, and name it."
    )
    return Unmet(why, Reason.OWN_REFERENCE)


def moved_by_instrument(bench: Bench) -> Unmet | None:
    """What the protection moved was read with an instrument, and moved by more than both flowmeters may err."""
    for number, row in telling_rows(grid_rows(bench)):
        if any(is_moved(*pair) and not pair[1].instrument for pair in set_and_measured(row)):
            why = (
                f"Row {number}: the flow was read on the machine's own flowmeter, which is under test. Read it with "
                "an instrument, and name it."
            )
            return Unmet(why, Reason.OWN_REFERENCE)
        if any(is_moved(*pair) for pair in set_and_measured(row)) and not any(
            moves_clearly(bench, *pair) for pair in set_and_measured(row)
        ):
            why = (
                f"Row {number}: the flow differs from its setting by no more than the machine's flowmeter and the "
                "instrument may err. Ask for less oxygen, so that more has to be limited."
            )
            return Unmet(why, Reason.TOO_COARSE, fail_stands=False)
    return None


def other_was_on(bench: Bench) -> Unmet | None:
    """The control of the other gas was open while oxygen was off."""
    rows = grid_rows(bench)
    if any(row["oxygen_set"].value == 0 and row["other_set"].value > 0 for _, row in rows):
        return None
    offered = bench.value("oxygen_off_set")
    if offered is None:
        why = "How much of the other gas was set while oxygen was off is not stated."
        return Unmet(why, Reason.NOT_KNOWN)
    if offered.value >= to_si(1, "L/min") * (1 - 1e-9):
        return None
    return Unmet("Less than 1 L/min of the other gas was set while oxygen was off: open its control further.")


EXCESS = "the other gas offered in excess, four times the oxygen or more"
ASKED = Challenge(
    f"{EXCESS}; read with an analyser or instruments, not on the machine's own flowmeters",
    first_unmet(asked_too_much, agree, measured_apart),
)
MOVES = Challenge(
    f"{EXCESS}; what was limited read with an instrument, not on the machine's own flowmeters",
    first_unmet(asked_too_much, moved_by_instrument),
)
OTHER_OFF = Challenge("oxygen off and the other gas set to 1 L/min or more", other_was_on)
