"""The signed results of one test as series over time, divided where a machine was repaired."""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

from django.utils import timezone

from fleet.catalogue import COMPONENT_KINDS
from fleet.late import np
from fleet.models import Component
from inspections.at_bench.step_content import is_repeated_after
from inspections.bench.decision_words import FAILED
from inspections.models import Finding, InspectionStep, Result
from inspections.trends import Histories

YEARS_BACK = 12  # results older than this say nothing of the machine of today; common practice, no source
YEAR_SECONDS = 365.25 * 86_400
COLUMNS = (
    "pk", "step__inspection__machine_id", "step__inspection__machine__model_id", "step__subject", "key",
    "step__inspection__signed_at", "step__inspection__procedure_id", "step__set_number", "step__component_id",
    "step__component__gas", "value", "std_uncertainty", "limit_lower", "limit_upper", "decision",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class SignedResult:
    """One signed figure of a machine; SI."""

    pk: int
    machine: int
    model: int
    subject: str
    key: str
    signed_at: datetime
    procedure: int
    set_number: int
    component: int | None
    gas: str | None
    value: float
    std: float | None
    lower: float | None
    upper: float | None
    decision: str

    @property
    def years(self):
        return years_of(self.signed_at)


@dataclass(slots=True)
class Series:
    """The results of one machine of one kind (subject and key), oldest first, and in which stretch each lies."""

    machine: int
    model: int
    kind: tuple[str, str]
    results: list[SignedResult] = field(default_factory=list)
    stretches: list[int] = field(default_factory=list)


def years_of(moment):
    """Return a moment on the time scale of the trends: years of 365.25 days since 1970."""
    return moment.timestamp() / YEAR_SECONDS


def years_of_noon(day):
    """Return noon of a day on that scale, in the time zone that is shown now."""
    return years_of(timezone.make_aware(datetime.combine(day, time(12))))


def day_of_years(years):
    """Return the day on that scale."""
    return date(1970, 1, 1) + timedelta(days=int(years * 365.25 + 1e-6))


def series_of(test_code, *, at, results=None):
    """Return the Series of a test over the last YEARS_BACK years; four queries, whatever the number of machines.

    results  a queryset that limits them, such as that of one model; all if not given
    """
    rows = Result.objects.all() if results is None else results
    rows = rows.measured_over_time(test_code, since=at - timedelta(days=366 * YEARS_BACK))
    found = {}
    for values in rows.values_list(*COLUMNS).iterator(chunk_size=5000):
        one = SignedResult(*values)
        kind = (one.subject, one.key)
        series = found.setdefault((one.machine, kind), Series(one.machine, one.model, kind))
        series.results.append(one)
    _divide(test_code, list(found.values()))
    return list(found.values())


def _divide(test_code, series):
    """Begin a stretch where a step was tested as left, a failed result was repaired, or a component replaced."""
    repaired, work = _repaired(test_code), _fitted_components(test_code, series)
    for one in series:
        stretch, waits = 0, False
        for number, result in enumerate(one.results):
            before = one.results[number - 1] if number else None
            is_repair = waits and result.decision not in FAILED
            if before and (is_repair or result.set_number > 1 or _is_of_another(before, result, work[one.machine])):
                stretch += 1
            waits = result.pk in repaired or (waits and not is_repair)
            one.stretches.append(stretch)


def _is_of_another(before, result, fitted):
    """Whether a component that the test is about was replaced between two results."""
    if before.component and result.component and before.component != result.component:
        return True
    first, last = before.signed_at.date(), result.signed_at.date()
    was_as_left = before.set_number > 1  # its own day's work is done
    return any(
        first <= day < last and not (was_as_left and day == first) and (not gas or not result.gas or gas == result.gas)
        for day, gas in fitted
    )


def _repaired(test_code):
    """Return the failed results of a test whose findings are closed."""
    closed = Finding.objects.of_faults().closed().filter(result__step__test_code=test_code)
    return set(closed.values_list("result_id", flat=True))


def _fitted_components(test_code, series):
    """Map machines to the days and gases of components after whose replacement the procedures repeat the test."""
    steps = InspectionStep.objects.filter(test_code=test_code).order_by("-pk")
    content = steps.values_list("content", flat=True).first() or {}
    kinds = [kind for kind in COMPONENT_KINDS if is_repeated_after(content, kind)]
    changed = Component.objects.filter(kind__in=kinds, fitted_in__verb__in=("fitted", "replaced"))
    found = defaultdict(list)
    for machine, day, gas in changed.values_list("machine_id", "fitted_on", "gas"):
        found[machine].append((day, gas))
    return found


def histories_of(series):
    """Return the arrays of many series of one test, in the order given."""
    families, kinds, kind_of = {}, {}, []
    family = []
    for one in series:
        name = (one.model, one.kind)
        if name not in families:
            families[name] = len(families)
            kind_of.append(kinds.setdefault(one.kind, len(kinds)))
        family.append(families[name])
    rows = [
        (number, result.years, result.value, result.std or 0.0, stretch)
        for number, one in enumerate(series)
        for result, stretch in zip(one.results, one.stretches, strict=True)
    ]
    numbers, years, values, std, stretches = np.array(rows, dtype=float).T
    return Histories.of(
        numbers.astype(int), years, values, std, stretch=stretches.astype(int), family=family, kind=kind_of
    )
