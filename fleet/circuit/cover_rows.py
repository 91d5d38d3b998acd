"""The cover table: for every cause what it leads to, what stops that, and what tells of it."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from fleet.circuit.state import Fault, Likelihood, State


class CauseGroup(StrEnum):
    """Where a cause begins."""

    USE = "use"  # the machine is whole; a hand sets it so
    SUPPLY = "supply"  # wall or cylinder gives nothing, or the wrong gas
    PART = "part"  # a part has failed
    JOINT = "joint"  # a hose is off, or in the wrong place


@dataclass(frozen=True, slots=True)
class Cause:
    """One thing that goes wrong, or one way of use, by itself or (`parts_of` filled) two of them together.

    prevented_by  codes of features each of which keeps the cause from coming about, such as pins at a yoke
    """

    code: str
    title: str
    group: CauseGroup
    likelihood: Likelihood
    state: State
    faults: tuple[Fault, ...] = ()
    prevented_by: tuple[str, ...] = ()
    parts_of: tuple[str, ...] = ()

    def __str__(self):
        return self.title


class Status(StrEnum):
    """What becomes of a hazard. OPEN: it comes about and nothing on the machine stops it or tells of it."""

    OPEN = "open"
    TOLD = "told"  # it comes about and an alarm or a monitor of the machine says so
    STOPPED = "stopped"  # a protection keeps it from coming about


@dataclass(frozen=True, slots=True)
class Figures:
    """What reaches the patient, None where the circuit has no such place or nothing flows there.

    oxygen, agents   mole fractions of the gas at the patient, or at the outlet of a circuit without breathing system
    fresh_gas_m3_s   flow from the machine at 20 C and 101.325 kPa; `fresh_oxygen_m3_s` the oxygen in it
    airway_pa_gauge  pressure at the patient
    room_m3_s        nitrous oxide and vapour that leave for the room
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

    stopped_by  codes of the features any one of which stops it here by itself; with `together`, only all of them do
    told_by     codes of the features that tell of it
    steps       how it comes about and is stopped, element by element, one sentence each
    figures     what reaches the patient on this machine
    without     the same with every protection taken away
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
    """A cause for which no steady flow was found, with the reason."""

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
