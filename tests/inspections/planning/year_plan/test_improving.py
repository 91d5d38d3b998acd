"""Making room by moving one other inspection, and loads that count more than a shared visit."""

from dataclasses import replace
from datetime import timedelta

from inspections.planning.year_plan import AreaRoom, Job, Problem, SiteDays, Technician
from inspections.planning.year_plan.improving import make_room
from inspections.planning.year_plan.options import Options
from inspections.planning.year_plan.state import State
from tests.inspections.planning.year_plan.fleets import FIRST

DAYS = (FIRST, FIRST + timedelta(days=1))
FIRST_DAY = FIRST.toordinal()
MOVABLE = Job(0, 0, 0, 0, 120, DAYS[0], DAYS[1], DAYS[0])
BOUND_TO_A_DAY = replace(MOVABLE, key=1, machine=1, last_day=DAYS[0])


def state_of(*jobs, people=1):
    technicians = tuple(Technician(one, f"T{one}", dict.fromkeys(DAYS, 120 * people)) for one in range(people))
    return State(Options(Problem(*DAYS, jobs, technicians, (AreaRoom(0, "A"),), (SiteDays(0, "S"),))))


def test_an_inspection_moves_out_of_the_way_of_one_that_has_no_other_day():
    state = state_of(MOVABLE, BOUND_TO_A_DAY)
    state.place(0, 0, FIRST_DAY)
    make_room(state)
    assert state.placed == {0: (0, FIRST_DAY + 1), 1: (0, FIRST_DAY)}


def test_what_cannot_move_stays_and_nothing_else_changes():
    state = state_of(replace(MOVABLE, last_day=DAYS[0]), BOUND_TO_A_DAY)
    state.place(0, 0, FIRST_DAY)
    make_room(state)
    assert state.placed == {0: (0, FIRST_DAY)} and state.left[0][FIRST_DAY] == 0 and state.load == [120]


def test_even_loads_count_more_than_a_visit_that_is_shared():
    state = state_of(MOVABLE, replace(MOVABLE, key=1, machine=1), people=2)
    state.place(0, 0, FIRST_DAY)
    best = state.best_pair(state.jobs[1], state.open_pairs(state.jobs[1]))
    assert best[3] == 1
