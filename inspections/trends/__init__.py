"""Trends: the drift of results over time with their uncertainty, and when it reaches a limit. Plain Python."""

from .calibrating import trends_of, widening_of
from .fitting import Fitted, Hyper, fit, fit_given
from .histories import Histories
from .line_alone import line_alone, scatter_about
from .outlook import POLICY, Advice, Outlook, outlook
from .predicting import Predicted, predicted
from .terms import fitted_from, slope_interval, terms_of

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
    "fitted_from",
    "line_alone",
    "outlook",
    "predicted",
    "scatter_about",
    "slope_interval",
    "terms_of",
    "trends_of",
    "widening_of",
]
