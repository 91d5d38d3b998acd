"""The retirement review: published obsolescence criteria, maintenance burden, ranking. Plain Python."""

from inspections.review.burden import BURDEN_YEARS, DEFAULT_WEIGHTS, PARTS, Burden, BurdenPart, PartScore, burden_of
from inspections.review.closing import Alteration, Closing, closing
from inspections.review.criteria import CRITERIA, Criterion, DecidedBy, Kind, UnknownCriterion, get_criterion
from inspections.review.judging import Answer, Conclusion, Review, Status, review
from inspections.review.machine_evidence import (
    CircuitFact,
    Event,
    FeatureFact,
    Judgement,
    MachineFacts,
    OpenHazard,
    Upkeep,
)
from inspections.review.ranking import HAZARD_WEIGHTS, Move, Place, Weights, exposure, moves, rank
from inspections.review.trend import Trend, laplace_trend, trend_of_days

__all__ = [
    "BURDEN_YEARS",
    "CRITERIA",
    "DEFAULT_WEIGHTS",
    "HAZARD_WEIGHTS",
    "PARTS",
    "Alteration",
    "Answer",
    "Burden",
    "BurdenPart",
    "CircuitFact",
    "Closing",
    "Conclusion",
    "Criterion",
    "DecidedBy",
    "Event",
    "FeatureFact",
    "Judgement",
    "Kind",
    "MachineFacts",
    "Move",
    "OpenHazard",
    "PartScore",
    "Place",
    "Review",
    "Status",
    "Trend",
    "UnknownCriterion",
    "Upkeep",
    "Weights",
    "burden_of",
    "closing",
    "exposure",
    "get_criterion",
    "laplace_trend",
    "moves",
    "rank",
    "review",
    "trend_of_days",
]
