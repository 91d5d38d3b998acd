"""Bench tests of anaesthesia gas machines: plain Python, SI units inside, no I/O.

A test declares its readings, results, limits and sources; its `evaluate` turns a sheet of readings
and a context into results with uncertainty and decision. The tests are in `TESTS` by code.
"""

from .challenges import Challenge, NoChallenge, Reason, Unmet
from .decisions import Decision, Verdict, decide, probability_of_conformity
from .declarations import ChoiceSpec, Context, ReadingSpec, ResultSpec, TableSpec, Test
from .errors import BenchError, UnknownTest
from .instruments import Accuracy, Instrument, Scale
from .limits import Limit, choose_limit
from .quantities import (
    SI_UNITS,
    UNITS,
    Dimension,
    Zero,
    dimension_of,
    from_si,
    interval_from_si,
    si_factor,
    to_si,
)
from .readings import Reading, Sheet
from .registry import TESTS, get_test, lacking
from .results import Curve, Evaluation, Mark, NotJudged, Result, Series
from .uncertainty import Estimate

__all__ = [
    "SI_UNITS",
    "TESTS",
    "UNITS",
    "Accuracy",
    "BenchError",
    "Challenge",
    "ChoiceSpec",
    "Context",
    "Curve",
    "Decision",
    "Dimension",
    "Estimate",
    "Evaluation",
    "Instrument",
    "Limit",
    "Mark",
    "NoChallenge",
    "NotJudged",
    "Result",
    "ResultSpec",
    "Reading",
    "ReadingSpec",
    "Reason",
    "Scale",
    "Series",
    "Sheet",
    "TableSpec",
    "Test",
    "UnknownTest",
    "Unmet",
    "Verdict",
    "Zero",
    "choose_limit",
    "decide",
    "dimension_of",
    "from_si",
    "get_test",
    "lacking",
    "interval_from_si",
    "probability_of_conformity",
    "si_factor",
    "to_si",
]
