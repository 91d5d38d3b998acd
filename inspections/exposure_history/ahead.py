"""What each decision of a stored choice for the fleet leaves open, quarter by quarter ahead."""

from dataclasses import dataclass, field

from inspections.planning.exposure_sums import either
from inspections.planning.fleet_choice import Kind, plan_from_dict

KEEP, ALTER, REPLACE, CHOICE = "keep", "alter", "replace", "choice"
QUARTERS_A_YEAR = 4
KINDS_OF = {
    KEEP: frozenset(),
    ALTER: frozenset({Kind.ALTER}),
    REPLACE: frozenset({Kind.REPLACE, Kind.RETIRE}),
    CHOICE: frozenset(Kind),
}


@dataclass(frozen=True, slots=True)
class Ahead:
    """One machine in service today: what its circuit leaves open, and the drift of its safety features.

    drift  feature -> the chance on each day ahead that it is outside its limits
    """

    name: str
    weights: dict
    is_open: object
    drift: dict = field(default_factory=dict)


def choices_of(choice):
    """Return machine name -> the Choice that the stored plan makes for it; empty without a stored choice."""
    return {each.machine: each for each in plan_from_dict(choice.result["plan"]).choices} if choice else {}


def decisions_of(choice):
    """Return the decisions that differ: without a stored choice nothing can be done but keep."""
    return tuple(KINDS_OF) if choice else (KEEP,)


def shares_open(machine: Ahead, chosen, decision, place):
    """Return the share of each hazard that is open at a quarter end ahead; None: not known, and no machine is there.

    place  of the quarter, 0 is the first one ahead. What is done within a year counts from the end of that year.
    Return False for a machine that is gone without a new one.
    """
    is_done = (
        chosen is not None
        and chosen.option.kind in KINDS_OF[decision]
        and place + 1 >= (chosen.year + 1) * QUARTERS_A_YEAR
    )
    if is_done and chosen.option.kind is Kind.RETIRE:
        return False
    if machine.is_open is None:
        return None
    if is_done and chosen.option.kind is Kind.REPLACE:
        return {}
    does = frozenset(chosen.option.does) if is_done else frozenset()
    shares = {hazard: 1.0 for hazard in machine.is_open.hazards if not _is_closed(machine.is_open, hazard, does)}
    return shares | _drifted(machine, shares, place)


def _is_closed(is_open, hazard, does):
    return any(features <= does for features in is_open.closers.get(hazard, ()))


def _drifted(machine, shares, place):
    """Return the share of each hazard, closed so far, that drift opens: any of the features behind which it is."""
    chances = {}
    for feature, hazards in machine.is_open.behind.items():
        for hazard in hazards - shares.keys() if feature in machine.drift else ():
            chances.setdefault(hazard, []).append(machine.drift[feature][place])
    return {hazard: either(each) for hazard, each in chances.items()}
