"""The cover table: for every cause what it leads to, what stops that, and what alarms on it."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from fleet.circuit.state import Fault, Likelihood, State


class CauseGroup(StrEnum):
    """Where a cause begins."""

    USE = "use"  # the machine is sound; it is used in this way
    SUPPLY = "supply"  # pipeline or cylinder supplies nothing, or the wrong gas
    COMPONENT = "part"  # a component has failed
    CONNECTION = "joint"  # a hose is disconnected or misconnected


@dataclass(frozen=True, slots=True)
class Cause:
    """One failure or one way of use by itself, or two of them together (then `parts_of` names them).

    prevented_by  codes of features each of which prevents the cause, such as pins at a yoke
    """

    code: str
    title: str
    group: CauseGroup
    likelihood: Likelihood
    state: State
    faults: tuple[Fault, ...] = ()
    prevented_by: tuple[str, ...] = ()
    components_of: tuple[str, ...] = ()

    def __str__(self):
        return self.title


class Status(StrEnum):
    """The status of a hazard. OPEN: it occurs and nothing on the machine stops it or alarms on it."""

    OPEN = "open"
    TOLD = "told"  # it occurs and an alarm or a monitor of the machine alarms
    STOPPED = "stopped"  # a safety feature prevents it

    @property
    def word(self) -> str:
        """The word that people read; the value is what tables and addresses store."""
        return "alarmed" if self is Status.TOLD else self.value


@dataclass(frozen=True, slots=True)
class Figures:
    """What reaches the patient; None if the circuit has no such place or nothing flows there.

    oxygen, agents   mole fractions of the gas at the patient, or at the outlet of a circuit without breathing system
    fresh_gas_m3_s   flow from the machine at 20 C and 101.325 kPa; `fresh_oxygen_m3_s` is the oxygen in it
    airway_pa_gauge  pressure at the patient
    room_m3_s        nitrous oxide and vapour that escape into the room
    """

    oxygen: float | None
    agents: Mapping[str, float]
    fresh_gas_m3_s: float
    fresh_oxygen_m3_s: float
    airway_pa_gauge: float | None
    room_m3_s: float


@dataclass(frozen=True, slots=True)
class CoverRow:
    """One hazard that one cause could lead to.

    stopped_by  codes of the features each of which alone stops it here; with `together`, only all of them do
    told_by     codes of the features that alarm on it
    steps       how it happens and is stopped, element by element, one sentence each
    figures     what reaches the patient on this machine
    without     the same without any safety feature
    """

    hazard: str
    cause: Cause
    status: Status
    stopped_by: tuple[str, ...]
    told_by: tuple[str, ...]
    steps: tuple[str, ...]
    figures: Figures | None
    without: Figures | None
    together: bool = False


@dataclass(frozen=True, slots=True)
class Unsolved:
    """A cause without a steady flow, with the reason."""

    cause: Cause
    reason: str


@dataclass(frozen=True, slots=True)
class CoverTable:
    """All rows of a circuit, worst first within a hazard, hazards in the order of the catalogue."""

    circuit: str
    digest: str
    causes: int
    rows: tuple[CoverRow, ...]
    unsolved: tuple[Unsolved, ...] = ()

    @property
    def open_rows(self) -> tuple[CoverRow, ...]:
        return tuple(row for row in self.rows if row.status is Status.OPEN)

    @property
    def open_hazards(self) -> tuple[str, ...]:
        """Codes of the hazards with an open row, each once, in order."""
        return tuple(dict.fromkeys(row.hazard for row in self.open_rows))
