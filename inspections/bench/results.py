"""What a test hands back: results, curves, remarks and what is still missing."""

from dataclasses import dataclass

from .decisions import Decision
from .limits import Limit


@dataclass(frozen=True, slots=True)
class Result:
    """One computed result with its uncertainty and, where a limit applies, its decision.

    value_si, std_uncertainty_si, expanded_uncertainty_si, margin_si  in SI (pressures gauge)
    dof                   effective degrees of freedom, inf if the uncertainty is well known
    coverage_factor       k of the expanded uncertainty (95 %)
    unit                  unit to show it in
    decision              None when there is no limit: reported, not judged
    margin_si             distance to the nearest limit, positive inside
    probability           of conformity, JCGM 106:2012
    convention            how the value is to be understood ("mean over the decay, ambient volume")
    reason, why           why it is not tested, not decided or only reported: one of challenges.Reason, and a sentence
    sufficient_uncertainty_si  expanded uncertainty with which this value would be decided
    unit_chosen           whether units were chosen for the inspection: then it is shown in `unit` everywhere

    A result that was not measured has no value.
    """

    key: str
    label: str
    value_si: float | None
    std_uncertainty_si: float
    dof: float
    coverage_factor: float
    expanded_uncertainty_si: float
    unit: str
    limit: Limit | None
    decision: Decision | None
    margin_si: float | None
    probability: float | None
    convention: str
    remark: str = ""
    reason: str = ""
    why: str = ""
    sufficient_uncertainty_si: float | None = None
    unit_chosen: bool = False

    @property
    def is_measured(self) -> bool:
        return self.value_si is not None


@dataclass(frozen=True, slots=True)
class Series:
    """Points (x, y) in the display units of their curve. style: "line", "points" or "both"."""

    label: str
    points: tuple[tuple[float, float], ...]
    style: str = "both"


@dataclass(frozen=True, slots=True)
class Mark:
    """A value marked on one axis. axis "x" or "y"; kind "limit", "result" or "note"; spread = half width."""

    axis: str
    value: float
    label: str
    kind: str
    spread: float | None = None


@dataclass(frozen=True, slots=True)
class Curve:
    """A picture of the readings, all numbers in display units.

    units_chosen  whether these were chosen for the inspection: then it is shown in them everywhere
    """

    key: str
    title: str
    x_label: str
    x_unit: str
    y_label: str
    y_unit: str
    series: tuple[Series, ...]
    marks: tuple[Mark, ...] = ()
    units_chosen: bool = False


@dataclass(frozen=True, slots=True)
class NotJudged:
    """A reading that was given and on which no decision rests, with the reason. key as on the sheet."""

    key: str
    label: str
    reason: str


@dataclass(frozen=True, slots=True)
class Evaluation:
    """All that one test says.

    missing     plain words, what is still needed before a result
    assumed     what was not read and is taken for granted, with its uncertainty, a sentence each
    not_judged  readings given on which no decision rests
    Remarks hold the last two as well, as sentences.
    """

    results: tuple[Result, ...] = ()
    curves: tuple[Curve, ...] = ()
    remarks: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()
    not_judged: tuple[NotJudged, ...] = ()

    def result(self, key: str) -> Result | None:
        """Return the result with this key, None if there is none yet."""
        return next((result for result in self.results if result.key == key), None)
