"""Trends: the drift of results over time with their uncertainty, and when it reaches a limit. Plain Python."""

from .calibrating import trends_of, widening_of
from .fitting import Fitted, Hyper, fit, fit_given
from .histories import Histories
from .line_alone import line_alone, scatter_about
from .outlook import POLICY, Advice, Outlook, outlook
from .predicting import Predicted, predicted

__all__ = [
    "POLICY",
    "Advice",
    "Fitted",
    "Histories",
    "Hyper",
    "Outlook",
    "Predicted",
    "fit",
    "fit_given",
    "line_alone",
    "outlook",
    "predicted",
    "scatter_about",
    "trends_of",
    "widening_of",
]
