"""Why a job has no place: the first rule that leaves it without any day, and what would free it."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from inspections.planning.year_plan.inputs import Job
from inspections.planning.year_plan.state import State


class Binding(StrEnum):
    """The rules that can leave a job without a place, in the order in which they are asked."""

    WINDOW_OUTSIDE = "window outside the plan"
    FREE_DAYS = "window wholly on free days"
    AREA_CLOSED = "area closed"
    NO_INSTRUMENT = "no instrument"
    INSTRUMENT_OUT = "instrument out of calibration"
    AREA_MINIMUM = "area minimum"
    NOBODY_AT_SITE = "nobody works at the site"
    NOBODY_COMPETENT = "nobody competent"
    COMPETENCE_EXPIRES = "competence expires"
    NOBODY_PRESENT = "nobody at work"
    TOO_LONG = "longer than any day"
    AREA_TAKEN = "area minimum with other work"
    HOURS_TAKEN = "no hours left"


@dataclass(frozen=True, slots=True)
class Unplaced:
    """A job without a place: its key, the binding rule, the reason as a sentence, and what would free it."""

    job: int
    binding: Binding
    reason: str
    remedy: str


def explain(state: State, number: int) -> Unplaced:
    """Return why the job at this position has no place. Rules that hold without other work are asked first."""
    job = state.jobs[number]
    binding, reason, remedy = _of_days(state, job) or _of_people(state, job) or _of_other_work(state, job)
    return Unplaced(job.key, binding, reason, remedy)


def _of_days(state, job):
    site, area = state.options.sites[job.site], state.options.areas[job.area]
    days = state.options.window(job)
    if not days:
        reason = f"Its window, {_span(job)}, has no day within the plan."
        return Binding.WINDOW_OUTSIDE, reason, "A plan that reaches its window."
    days = [day for day in days if day not in site.free_days]
    if not days:
        reason = f"Every day of its window, {_span(job)}, is a free day of {site.name}."
        return Binding.FREE_DAYS, reason, "One working day in the window, or a wider window of the procedure."
    days = [day for day in days if day not in area.closed]
    if not days:
        reason = f"{area.name} gives no machine away on any working day of its window, {_span(job)}."
        return Binding.AREA_CLOSED, reason, f"One open day of {area.name} in the window."
    if not any(site.can_measure(job.instruments, day) for day in days):
        return _of_instruments(site, job, days)
    if area.spare is not None and area.spare <= 0:
        reason = f"{area.name} has no machine in service above its minimum, so none can be taken."
        return Binding.AREA_MINIMUM, reason, "A lower minimum, or one more machine in service there."
    return None


def _of_instruments(site, job, days):
    lacking = sorted(one for one in job.instruments if not site.instruments.get(one))
    if lacking:
        reason = f"{site.name} has no instrument for {', '.join(lacking)}."
        return Binding.NO_INSTRUMENT, reason, "An instrument that measures it, at the site."
    out = sorted(one for one in job.instruments if not any(site.can_measure(frozenset([one]), day) for day in days))
    which = ", ".join(out or sorted(job.instruments))
    reason = f"No instrument of {site.name} for {which} is in calibration on the days of the window."
    return Binding.INSTRUMENT_OUT, reason, "A calibration before the window ends."


def _of_people(state, job):
    people = state.options.problem.technicians
    there = [one for one in people if one.works_at(job.site)]
    if not there:
        reason = f"No technician works at {state.options.sites[job.site].name}."
        return Binding.NOBODY_AT_SITE, reason, "A technician with this site."
    competent = [one for one in there if not job.skill or job.skill in one.skills]
    if not competent:
        reason = f"Nobody who works there is competent for {job.skill}."
        return Binding.NOBODY_COMPETENT, reason, f"A confirmed competence for {job.skill}."
    days = [date.fromordinal(day) for day in state.options.days(job)]
    able = [(one, [day for day in days if one.is_competent(job.skill, day)]) for one in competent]
    able = [(one, then) for one, then in able if then]
    if not able:
        names = ", ".join(f"{one.name} ({one.skills[job.skill].isoformat()})" for one in competent)
        reason = f"Every competence for {job.skill} ends before the first possible day, {days[0].isoformat()}: {names}."
        return Binding.COMPETENCE_EXPIRES, reason, "A competence that is confirmed again."
    longest = max(one.minutes.get(day, 0) for one, then in able for day in then)
    names = ", ".join(one.name for one, _ in able)
    if not longest:
        reason = f"Nobody who could do it is at work on a possible day of its window, {_span(job)}: {names}."
        return Binding.NOBODY_PRESENT, reason, "Hours of one of them on such a day, or another competent person."
    if longest < job.minutes:
        reason = f"It takes {job.minutes} minutes, and the longest possible day has {longest}."
        return Binding.TOO_LONG, reason, "A longer working day, or a shorter estimate of its minutes."
    return None


def _of_other_work(state, job):
    pairs = list(state.options.pairs(job))
    if not any(state.has_room(job, day) for _, day in pairs):
        area = state.options.areas[job.area]
        reason = f"On every possible day {area.name} already spares the {area.spare} it can; other work comes first."
        return Binding.AREA_TAKEN, reason, "A lower minimum there, or another day for one of its booked machines."
    names = ", ".join(sorted({state.options.problem.technicians[one].name for one, _ in pairs}))
    reason = f"The hours of {names} are taken on every possible day of its window, {_span(job)}."
    return Binding.HOURS_TAKEN, reason, f"{job.minutes} minutes on one of those days."


def _span(job: Job) -> str:
    return f"{job.first_day.isoformat()} to {job.last_day.isoformat()}"
