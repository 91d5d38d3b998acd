"""Short ways to declare readings and limits."""

from .declarations import ReadingSpec, Wanted
from .limits import FLOOR, SEEN, Limit
from .quantities import UNITS, YES_NO, Dimension, Zero, to_si

NEVER_ON_A_PATIENT = (
    "Never on a machine connected to a patient. For qualified personnel: follow the manufacturer's instructions, "
    "local codes and licensed practice."
)


def reading(
    key: str,
    label: str,
    dimension: Dimension,
    *,
    first: str | None = None,
    help: str = "",
    required: bool = True,
    zero: Zero = Zero.GAUGE,
    stated: bool = False,
    judges: tuple[str, ...] = (),
    unjudged: str = "",
    gas: str = "",
    asked: bool = False,
    wanted: Wanted = (),
    needs: tuple[str, ...] = (),
) -> ReadingSpec:
    """Return a declared reading that accepts every unit of its dimension, `first` being the default.

    stated            set on the machine, shown by the machine itself, or taken from a label: no instrument is named
    judges, unjudged  the results that rest on it, or why none does (see ReadingSpec)
    gas               what flows, where one test reads two gases
    asked, wanted, needs  see ReadingSpec
    """
    units = UNITS[dimension]
    if first is not None:
        units = (first, *(unit for unit in units if unit != first))
    entry = Dimension(dimension).entry
    needs_instrument = entry.needs_instrument and not stated
    zero = zero if entry.has_zero else None
    return ReadingSpec(
        key, label, dimension, zero, units, help, required, needs_instrument, judges, unjudged, gas, asked, wanted,
        needs,
    )  # fmt: skip


def with_option(choice: str, *options: str) -> Wanted:
    """Return what is wanted with any of these options of one choice."""
    return tuple(((choice, option),) for option in options)


def observation(
    key: str,
    label: str,
    *,
    help: str = "",
    required: bool = True,
    judges: tuple[str, ...] = (),
    unjudged: str = "",
    asked: bool = False,
    wanted: Wanted = (),
    needs: tuple[str, ...] = (),
) -> ReadingSpec:
    """Return a declared yes/no observation."""
    return ReadingSpec(
        key, label, Dimension.OBSERVATION, None, (YES_NO,), help, required, False, judges, unjudged, asked=asked,
        wanted=wanted, needs=needs,
    )  # fmt: skip


def limit(
    key: str,
    rule: str,
    title: str,
    band: tuple[float | None, float | None],
    unit: str,
    source: str,
    edition: str,
    basis: str,
    *,
    built: tuple[int | None, int | None] = (None, None),
    note: str = "",
    strict: bool = False,
    floor: float = FLOOR,
) -> Limit:
    """Return a limit given in its printed unit. band = (lower, upper); built = (from, before)."""
    lower, upper = (None if end is None else to_si(end, unit) for end in band)
    return Limit(key, rule, title, lower, upper, unit, source, edition, basis, *built, note, strict, floor)


def must_be_yes(key: str, title: str, source: str, edition: str, basis: str = SEEN) -> Limit:
    """Return the limit of an answer that has to be yes."""
    return limit(key, "must-be-yes", title, (1, None), "yes/no", source, edition, basis)
