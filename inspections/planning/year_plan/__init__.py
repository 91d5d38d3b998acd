"""Plans a year of inspections: a technician and a day for each, within hours, windows, competence and area minimums.

Plain Python. `plan_year` takes a Problem of frozen rows and returns a YearPlan. Every hard rule is checked for each
placement (`options.py`, `state.py`); what is wished is one number (`objective.py`). Small problems are solved exactly
(`exact.py`); others by weeks first (`weekly.py`), then by days (`placing.py`, `improving.py`), with the gap stated.
"""

from inspections.planning.year_plan.inputs import AreaRoom, BookedWork, Job, Problem, SiteDays, Span, Technician
from inspections.planning.year_plan.objective import FAIR_WITHIN, UNEVEN_SOON, objective_of
from inspections.planning.year_plan.planner import Placement, YearPlan, plan_year
from inspections.planning.year_plan.reasons import Binding, Unplaced

__all__ = [
    "FAIR_WITHIN",
    "UNEVEN_SOON",
    "AreaRoom",
    "Binding",
    "BookedWork",
    "Job",
    "Placement",
    "Problem",
    "SiteDays",
    "Span",
    "Technician",
    "Unplaced",
    "YearPlan",
    "objective_of",
    "plan_year",
]
