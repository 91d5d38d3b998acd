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
from inspections.review.ranking import EQUAL, HAZARD_WEIGHTS, STEPS, Move, Place, Weights, exposure, moves, rank
from inspections.review.sensitivity import RankRange, Sensitivity, WeightRange, sensitivity
from inspections.review.trend import Trend, laplace_trend, trend_of_days

__all__ = [
    "BURDEN_YEARS",
    "CRITERIA",
    "DEFAULT_WEIGHTS",
    "EQUAL",
    "HAZARD_WEIGHTS",
    "PARTS",
    "STEPS",
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
    "RankRange",
    "Review",
    "Sensitivity",
    "Status",
    "Trend",
    "UnknownCriterion",
    "Upkeep",
    "WeightRange",
    "Weights",
    "burden_of",
    "closing",
    "exposure",
    "get_criterion",
    "laplace_trend",
    "moves",
    "rank",
    "review",
    "sensitivity",
    "trend_of_days",
]
