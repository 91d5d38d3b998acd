"""Two causes at once."""

from collections.abc import Iterable
from itertools import combinations

from fleet.circuit.cover_rows import Cause, CauseGroup
from fleet.circuit.quantity_words import small
from fleet.circuit.state import Likelihood, State
from fleet.circuit.structure import Circuit
from fleet.circuit.usual_states import ordinary_state

ORDER = tuple(Likelihood)  # from frequent to rare
GROUPS = tuple(CauseGroup)


def pairs_among(circuit: Circuit, causes: Iterable[Cause], at_least: Likelihood) -> tuple[Cause, ...]:
    """Return every pair of these causes that are both at least that likely and can occur together.

    A pair is as likely as the rarer of the two. Two causes with different settings of the same thing, or with two
    failures of one component, exclude each other.
    """
    ordinary = ordinary_state(circuit)
    chosen = [
        cause
        for cause in causes
        if ORDER.index(cause.likelihood) <= ORDER.index(at_least) and (cause.faults or cause.state != ordinary)
    ]
    pairs = (pair_of(one, other, ordinary) for one, other in combinations(chosen, 2))
    return tuple(pair for pair in pairs if pair is not None)


def pair_of(one: Cause, other: Cause, ordinary: State) -> Cause | None:
    """Return both causes together, or None if they exclude each other."""
    if {fault.component for fault in one.faults} & {fault.component for fault in other.faults}:
        return None
    if one.code == other.code or one.state.cut & other.state.cut or (one.state.made and other.state.made):
        return None
    state = _both(one, other, ordinary)
    if state is None:
        return None
    title = f"{one.title}; and {small(other.title)}"
    return Cause(
        code=f"{one.code}--{other.code}",
        title=title,
        group=max(one.group, other.group, key=GROUPS.index),
        likelihood=max(one.likelihood, other.likelihood, key=ORDER.index),
        state=State(f"{one.state.code}--{other.state.code}", title, state.settings, state.cut, state.made),
        faults=(*one.faults, *other.faults),
        prevented_by=tuple(dict.fromkeys((*one.prevented_by, *other.prevented_by))),
        components_of=(one.code, other.code),
    )


def _both(one: Cause, other: Cause, ordinary: State) -> State | None:
    """Return the state of both; None if they set one thing differently or one of them adds nothing."""
    changed, others = _changes(one.state, ordinary), _changes(other.state, ordinary)
    if any(changed[place] != others[place] for place in changed.keys() & others.keys()):
        return None
    if not (_has_more(other, others, changed) and _has_more(one, changed, others)):
        return None
    state = one.state
    for (component, key), value in others.items():
        state = state.with_settings(component, **{key: value})
    cut, made = one.state.cut | other.state.cut, (*one.state.made, *other.state.made)
    return State(state.code, state.title, state.settings, cut, made)


def _has_more(cause: Cause, changes, than) -> bool:
    return bool(cause.faults or cause.state.cut) or not changes.items() <= than.items()


def _changes(state: State, ordinary: State) -> dict[tuple[str, str], float | str]:
    return {
        (component, key): value
        for component, settings in state.settings.items()
        for key, value in settings.items()
        if ordinary.of(component).get(key) != value
    }
