"""The figures of the inspection programme: each with its numerator, denominator, interval and period."""

from dataclasses import dataclass
from datetime import datetime, time, timedelta

from django.db.models import Count, Exists, Min, OuterRef, Q, Subquery, Sum
from django.utils import timezone

from fleet.drawing.numbers import uncertainty_decimals
from fleet.models import StatusChange
from inspections.bench import TESTS
from inspections.bench.decision_words import FAILED, JUDGED_WORST_FIRST
from inspections.models import Finding, Procedure, Result
from inspections.planning.failure_codes import CODES
from inspections.planning.rates import (
    hidden_failure_rate,
    rate_bounds,
    share_bounds,
    share_of_time_failed,
    time_between,
)
from inspections.schedule.hidden_failures import (
    DAYS_OF_YEAR,
    HIDDEN,
    UNCODED,
    complete_in,
    counted_gaps,
    gaps_of,
    signed_in,
)

MOST_TESTS = 10
PER_YEAR, YEARS, SHARE, HOURS = "per machine and year", "machine years", "%", "h"


@dataclass(frozen=True, slots=True)
class ProgrammeFigure:
    """One figure. `value`, `lower` and `upper` are None where nothing gives them; the interval holds 95 %."""

    name: str
    numerator: float
    numerator_is: str
    denominator: float
    denominator_is: str
    unit: str
    value: float | None = None
    lower: float | None = None
    upper: float | None = None
    remark: str = ""

    @property
    def decimals(self):
        """Decimals that show half of the interval to two figures; without one, as usual for the unit."""
        if self.lower is None or self.upper is None or self.upper <= self.lower:
            return 1 if self.unit == "%" else 2
        return uncertainty_decimals((self.upper - self.lower) / 2)


@dataclass(frozen=True, slots=True)
class Period:
    """The days that the figures cover, both included."""

    first: object
    last: object

    @property
    def moments(self):
        """From the start of the first day to that of the day after the last, in the time zone of the page."""
        days = (self.first, self.last + timedelta(days=1))
        return tuple(timezone.make_aware(datetime.combine(day, time())) for day in days)


def programme_figures(machines, period):
    """Return the figures of `machines` over a period, in eight queries."""
    return [
        first_pass_yield(machines, period),
        *findings_figures(machines, period),
        hours_per_inspection(machines, period),
        not_coded(machines, period),
        *hidden_failures(machines, period),
    ]


def first_pass_yield(machines, period):
    """Complete inspections in which no result failed as found."""
    signed = _complete(machines, period)
    failed = Exists(Result.objects.filter(step__inspection=OuterRef("pk"), decision__in=FAILED))
    counts = signed.aggregate(number=Count("pk"), passed=Count("pk", filter=~failed))
    number, passed = counts["number"], counts["passed"]
    found = _in_percent(share_bounds(passed, number)) if number else {}
    return ProgrammeFigure(
        "First-pass yield", passed, "complete inspections without a failed result, as found", number,
        "complete inspections signed", SHARE, **found, remark="Interval: Clopper-Pearson.",
    )  # fmt: skip


def findings_figures(machines, period):
    """Findings per machine year, and the mean time between findings."""
    start, end = period.moments
    found = Finding.objects.of_faults().filter(machine__in=machines.order_by().values("pk"))
    number = found.filter(opened_at__gte=start, opened_at__lt=end).count()
    years = machine_years(machines, period)
    counted = (number, "findings opened, all but contradictions of circuits and machines not located")
    over = (round(years, 2), YEARS)
    if not years:
        return [ProgrammeFigure("Findings", *counted, *over, PER_YEAR)]
    rate, between = rate_bounds(number, years), time_between(number, years)
    return [
        ProgrammeFigure("Findings", *counted, *over, PER_YEAR, rate.value, rate.lower, rate.upper,
                        "Interval: chi-square."),
        ProgrammeFigure("Mean time between findings", over[0], YEARS, *counted, "years", _finite(between.value),
                        between.lower, _finite(between.upper), "Interval: chi-square."),
    ]  # fmt: skip


def machine_years(machines, period):
    """Years that the machines were in the register and not retired within the period; one query."""
    retired = StatusChange.objects.filter(machine=OuterRef("pk"), status="retired").order_by("-changed_on")
    rows = machines.order_by().values_list("in_use_from", "status", Subquery(retired.values("changed_on")[:1]))
    days = 0
    for in_use_from, status, retired_on in rows:
        end = retired_on if status == "retired" and retired_on else period.last
        days += max(0, (min(end, period.last) - max(in_use_from, period.first)).days + 1)
    return days / DAYS_OF_YEAR


def hours_per_inspection(machines, period):
    """The mean of the minutes of work that were stated."""
    signed = _signed(machines, period)
    counts = signed.aggregate(number=Count("minutes"), minutes=Sum("minutes"), every=Count("pk"))
    hours = (counts["minutes"] or 0) / 60
    return ProgrammeFigure(
        "Hours per inspection", round(hours, 1), "hours of work stated", counts["number"],
        "signed inspections that state them", HOURS, hours / counts["number"] if counts["number"] else None,
        remark=f"{counts['every'] - counts['number']} signed inspections state no minutes.",
    )  # fmt: skip


def not_coded(machines, period):
    """Findings that were closed without a code."""
    start, end = period.moments
    closed = Finding.objects.of_faults().filter(
        machine__in=machines.order_by().values("pk"), closed_at__gte=start, closed_at__lt=end
    )
    counts = closed.aggregate(number=Count("pk"), uncoded=Count("pk", filter=Q(code="")))
    share = _in_percent(share_bounds(counts["uncoded"], counts["number"])) if counts["number"] else {}
    return ProgrammeFigure(
        "Closed without a code", counts["uncoded"], "findings closed that bear no code", counts["number"],
        "findings closed", SHARE, share.get("value"), remark="What is not coded counts as no hidden failure below.",
    )  # fmt: skip


def hidden_failures(machines, period):
    """The rate of hidden failures that each procedure finds, from the gaps between its complete inspections."""
    gaps = counted_gaps(machines, period.first, period.last)
    titles = {each.pk: each.title for each in Procedure.objects.filter(pk__in=list(gaps))}
    figures = [_hidden(titles[pk], found) for pk, found in gaps.items()]
    return sorted(figures, key=lambda figure: figure.name)


def _hidden(title, counted):
    gaps = gaps_of(counted, (HIDDEN,))
    failed, number = (sum(each) for each in zip(*((gap.number * gap.failed, gap.number) for gap in gaps), strict=True))
    years = sum(gap.years * gap.number for gap in gaps)
    rate = _rate(gaps)
    found = {"value": rate.value, "lower": rate.lower, "upper": rate.upper} if rate else {}
    remark = _standing(rate, years / number, failed) if rate else "Every inspection found one: nothing bounds the rate."
    return ProgrammeFigure(
        f"Hidden failures, {title}", failed, "inspections that found a hidden failure", round(years, 2),
        "years between complete inspections of a machine", PER_YEAR, **found, remark=f"{remark}{_uncoded(counted)}",
    )  # fmt: skip


def _rate(gaps):
    """The rate with its bounds; None where nothing bounds it."""
    return hidden_failure_rate(gaps) if any(not gap.failed for gap in gaps) else None


def _uncoded(counted):
    """What the findings without a code leave open, as a sentence; empty without one."""
    number = sum(number for (_, showed), number in counted.items() if showed == UNCODED)
    if not number:
        return ""
    rate = _rate(gaps_of(counted, (HIDDEN, UNCODED)))
    bound = f"the upper bound is {rate.upper:.3f}" if rate else "nothing bounds the rate"
    return f" {number} of these inspections found a failure that is not coded; if those were hidden, {bound}."


def _standing(rate, mean, failed):
    how = "Interval: likelihood ratio." if failed else "None found: the upper bound is exact, one-sided."
    worst = 100 * share_of_time_failed(rate.upper, mean)
    return f"{how} At the upper bound a failure stands {worst:.1f} % of the time, {12 * mean:.1f} months apart."


def most_failing_tests(machines, period):
    """Return the tests with the most failed steps: (title, failed steps, judged steps, bounds of the share in %)."""
    judged = Result.objects.filter(
        step__inspection__in=_signed(machines, period).values("pk"), decision__in=JUDGED_WORST_FIRST
    )
    rows = judged.order_by().values("step__test_code").annotate(
        steps=Count("step", distinct=True), failed=Count("step", distinct=True, filter=Q(decision__in=FAILED))
    )  # fmt: skip
    worst = rows.filter(failed__gt=0).order_by("-failed", "step__test_code")[:MOST_TESTS]
    return [
        ProgrammeFigure(
            f"Failed: {_test_title(row['step__test_code'])}", row["failed"], "steps with a failed result", row["steps"],
            "steps judged", SHARE, **_in_percent(share_bounds(row["failed"], row["steps"])),
        )
        for row in worst
    ]  # fmt: skip


def findings_by_code(machines, period):
    """Return (title, number) of the findings opened in the period by code, the most frequent first."""
    start, end = period.moments
    found = Finding.objects.of_faults().filter(
        machine__in=machines.order_by().values("pk"), opened_at__gte=start, opened_at__lt=end
    )
    rows = found.order_by().values("code").annotate(number=Count("pk"), first=Min("pk")).order_by("-number", "code")
    return [(CODES[row["code"]].title if row["code"] in CODES else "Not coded", row["code"], row["number"])
            for row in rows]  # fmt: skip


def _test_title(code):
    return TESTS[code].title if code in TESTS else code


def _signed(machines, period):
    return signed_in(machines, period.first, period.last)


def _complete(machines, period):
    return complete_in(machines, period.first, period.last)


def _in_percent(bounds):
    return {"value": 100 * bounds.value, "lower": 100 * bounds.lower, "upper": 100 * bounds.upper}


def _finite(value):
    return value if value != float("inf") else None
