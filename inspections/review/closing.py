"""What alterations would take away the criteria that a machine meets."""

from dataclasses import dataclass

from fleet.catalogue import FEATURES, Feature
from inspections.review.criteria import Criterion
from inspections.review.judging import Answer, Review


@dataclass(frozen=True, slots=True)
class Alteration:
    """Fit a safety feature (or remove an unwanted one): the criterion it closes, and how."""

    criterion: Criterion
    feature: Feature
    note: str


@dataclass(frozen=True, slots=True)
class Closing:
    """Alterations for the met criteria, and the met criteria that none can close."""

    alterations: tuple[Alteration, ...]
    left_over: tuple[Answer, ...]

    @property
    def closes_all_absolute(self) -> bool:
        return not any(answer.criterion.is_absolute for answer in self.left_over)


def closing(review: Review) -> Closing:
    """Return which met criteria an alteration would close, absolute ones first, and which stay."""
    met = review.absolute_met + review.relative_met
    closable = [answer for answer in met if can_be_altered(answer.criterion)]
    alterations = tuple(
        Alteration(
            answer.criterion, FEATURES[answer.criterion.feature], FEATURES[answer.criterion.feature].retrofit_note
        )
        for answer in closable
    )
    return Closing(alterations, tuple(answer for answer in met if answer not in closable))


def can_be_altered(criterion: Criterion) -> bool:
    """Return whether the criterion hangs on a feature that can be fitted, or taken away, later."""
    return bool(criterion.feature) and FEATURES[criterion.feature].can_be_retrofitted
