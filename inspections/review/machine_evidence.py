"""What the review must know of a machine. The caller gathers it; None and missing entries mean "not known"."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from fleet.catalogue import Equipment

STATES = ("fitted", "not fitted", "not known")


@dataclass(frozen=True, slots=True)
class FeatureFact:
    """The state of a protection on the day of the review, with the evidence for it."""

    state: str
    evidence: str = ""

    def __post_init__(self):
        if self.state not in STATES:
            raise ValueError(f"feature state is {self.state!r}; accepted: {', '.join(STATES)}")


@dataclass(frozen=True, slots=True)
class Upkeep:
    """Whether approved parts and qualified service can be had; `until` is the last day, None if no end is known."""

    is_available: bool | None = None
    until: date | None = None
    note: str = ""

    def on(self, day: date) -> bool | None:
        """Return whether both can be had on that day; None when not known. An end that has passed wins."""
        if self.until is not None:
            return day <= self.until and self.is_available is not False
        return self.is_available


@dataclass(frozen=True, slots=True)
class Event:
    """A finding, or a result that failed: when, what, and where it can be opened."""

    on: date
    title: str
    link: str = ""


@dataclass(frozen=True, slots=True)
class Judgement:
    """A person's answer to a criterion, with the reason."""

    is_met: bool
    reason: str
    by: str = ""
    on: date | None = None


@dataclass(frozen=True, slots=True)
class OpenHazard:
    """A hazard that the gas circuit leaves open as computed: by how many single causes.

    likely    how many of them are not rare
    closable  how many of those a protection would close that the machine lacks
    """

    code: str
    causes: int
    likely: int
    closable: int = 0
    worst: str = ""

    def __post_init__(self):
        if not 0 <= self.closable <= self.likely <= self.causes:
            numbers = f"{self.causes} causes, {self.likely} likely, {self.closable} closable"
            raise ValueError(f"{self.code} has {numbers}; accepted: none negative, each at most the one before")


@dataclass(frozen=True, slots=True)
class CircuitFact:
    """What was computed of the machine's gas circuit, and when."""

    computed_on: date
    open_hazards: tuple[OpenHazard, ...] = ()


@dataclass(frozen=True, slots=True)
class MachineFacts:
    """A machine as it stood on the day `on`.

    watched_from   first day of the records of findings and results; None: no records
    hours_down     hours out of service within BURDEN_YEARS before `on`, >= 0; None = not known
    judgements     by criterion code
    circuit        None: nothing was computed of its gas circuit
    """

    name: str
    on: date
    equipment: Equipment = Equipment()
    features: Mapping[str, FeatureFact] = field(default_factory=dict)
    upkeep: Upkeep = Upkeep()
    findings: tuple[Event, ...] = ()
    failed_results: tuple[Event, ...] = ()
    watched_from: date | None = None
    hours_down: float | None = None
    built_year: int | None = None
    judgements: Mapping[str, Judgement] = field(default_factory=dict)
    circuit: CircuitFact | None = None

    @property
    def all_but_name(self) -> tuple:
        """All that a review follows from, hashable: machines that are alike in it have the same review."""
        features, judgements = frozenset(self.features.items()), frozenset(self.judgements.items())
        return (
            self.on, self.equipment, features, self.upkeep, self.findings, self.failed_results, self.watched_from,
            self.hours_down, self.built_year, judgements, self.circuit,
        )  # fmt: skip
