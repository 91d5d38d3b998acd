"""Gather from the database what the retirement review must know of each machine, in a fixed number of queries."""

from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import UTC, datetime, time, timedelta
from functools import cached_property
from zoneinfo import ZoneInfo

from django.db.models import Count, Min, Sum
from django.db.models.functions import ExtractYear
from django.urls import reverse

from fleet.catalogue import FEATURES
from fleet.days import long_date
from fleet.models import Area, Evidence, FeatureState, Machine, MachineModel, State, StatusChange
from inspections.models import CriterionJudgement, Finding, Inspection, Result
from inspections.retirement.computed_exposure import circuit_facts
from inspections.retirement.weights import WeightsOfSite, weights_of_sites
from inspections.review import (
    CRITERIA,
    DecidedBy,
    Event,
    FeatureFact,
    Judgement,
    MachineFacts,
    Place,
    Upkeep,
    rank,
    review,
    trend_of_days,
)
from inspections.review.burden import window_start

NEEDED = tuple(
    dict.fromkeys(
        code
        for each in CRITERIA.values()
        if each.feature
        for code in (each.feature, *FEATURES[each.feature].fulfilled_by)
    )
)


@dataclass(frozen=True, slots=True)
class RankedMachine:
    """A machine with its place in the ranking and its review."""

    machine: Machine
    place: Place
    weighed: WeightsOfSite

    @property
    def review(self):
        return self.place.review


def rank_machines(machines, on) -> list[RankedMachine]:
    """Return the machines of a queryset reviewed and ranked for the day `on`, worst first.

    Each by the weights of its site. The reviews name states without the evidence for them, which would take longest to
    read; see `in_full`.
    """
    found = _with_shared_places(machines)
    by_name = {machine.asset_number: machine for machine in found}
    weighed = weights_of_sites({machine.site for machine in found})
    of = {name: weighed[machine.site.pk].weights for name, machine in by_name.items()}
    places = rank(reviews_without_evidence(machines, found, on), of=of)
    ranked = [(by_name[place.review.facts.name], place) for place in places]
    return [RankedMachine(machine, place, weighed[machine.site.pk]) for machine, place in ranked]


def reviews_without_evidence(scope, machines, on):
    """Return the reviews of `machines`, a list of those in the queryset `scope`, with all that a ranking needs."""
    return [review(facts) for facts in facts_without_evidence(scope, machines, on)]


def facts_without_evidence(scope, machines, on):
    """Return the facts of `machines`, a list of those in the queryset `scope`, with all that a ranking needs."""
    return gather_facts(scope, machines, on, _states)


def in_full(ranked, on) -> list[RankedMachine]:
    """Return some ranked machines with the evidence for every state in their reviews."""
    machines = [each.machine for each in ranked]
    scope = Machine.objects.filter(pk__in=[machine.pk for machine in machines])
    reviews = [review(facts) for facts in gather_facts(scope, machines, on)]
    return [replace(each, place=replace(each.place, review=full)) for each, full in zip(ranked, reviews, strict=True)]


def review_of(machine, on):
    """Return the review of one machine for the day `on`."""
    return review(gather_facts(Machine.objects.filter(pk=machine.pk), [machine], on)[0])


def _with_shared_places(machines):
    """Return the machines as a list whose models, areas and sites are read once each, not once a machine."""
    found = list(machines)
    models = MachineModel.objects.in_bulk()
    areas = {area.pk: area for area in Area.objects.select_related("site")}
    for machine in found:
        machine.model, machine.area = models[machine.model_id], areas[machine.area_id]
    return found


def _evidenced_states(ids, on):
    """Map machines to the facts of the features that criteria hang on; equal facts are made once."""
    found, made = defaultdict(dict), {}
    rows = FeatureState.objects.on(on).filter(machine__in=ids, feature__in=NEEDED).order_by()
    for machine, feature, *row in rows.values_list("machine", "feature", "state", "from_date", "evidence", "note"):
        key = tuple(row)
        if key not in made:
            made[key] = _feature_fact(*row)
        found[machine][feature] = made[key]
    return found


def _feature_fact(state, from_date, evidence, note):
    words = f"since {long_date(from_date)}, {Evidence(evidence).label.lower()}"
    return FeatureFact(state, f"{words}: {note.rstrip('.')}" if note else words)


def _states(ids, on):
    """As `_evidenced_states`, without the evidence: all that a ranking needs."""
    found, facts = defaultdict(dict), {state: FeatureFact(state) for state in State.values}
    rows = FeatureState.objects.on(on).filter(machine__in=ids, feature__in=NEEDED).order_by()
    for machine, feature, state in rows.values_list("machine", "feature", "state").iterator(chunk_size=5000):
        found[machine][feature] = facts[state]
    return found


def gather_facts(scope, machines, on, states=_evidenced_states) -> list[MachineFacts]:
    """Return the facts of `machines`, a list of those in the queryset `scope` with their places; ten queries."""
    ids = scope.order_by().values("pk")
    features = states(ids, on)
    zones = {machine.pk: ZoneInfo(machine.site.time_zone) for machine in machines}
    findings, failed = _findings(ids, zones, on), _failed_results(ids, zones, on)
    first, down, judged = _first_days(ids, zones), _hours_down(ids, zones, on), _judgements(ids, zones, on)
    circuits = circuit_facts(ids, on)
    models = {machine.model_id: machine.model for machine in machines}
    equipment = {pk: model.equipment for pk, model in models.items()}
    return [
        MachineFacts(
            name=machine.asset_number,
            on=on,
            equipment=equipment[machine.model_id],
            features=features[machine.pk],
            upkeep=Upkeep(until=machine.model.parts_until, note=machine.model.support_note),
            findings=tuple(findings[machine.pk]),
            failed_results=tuple(failed[machine.pk]),
            watched_from=first.get(machine.pk),
            hours_down=down[machine.pk],
            built_year=machine.built_year,
            judgements=judged[machine.pk],
            circuit=circuits.get(machine.pk),
        )
        for machine in machines
    ]


def _findings(ids, zones, on):
    found, link = defaultdict(list), _Address("inspections:finding")
    rows = Finding.objects.of_faults().filter(machine__in=ids).order_by("opened_at", "pk")
    for pk, machine, title, opened_at in rows.values_list("pk", "machine", "title", "opened_at"):
        day = opened_at.astimezone(zones[machine]).date()
        if day <= on:
            found[machine].append(Event(day, title, link.of(pk)))
    return found


def _failed_results(ids, zones, on):
    found, link = defaultdict(list), _Address("inspections:inspection")
    since = datetime.combine(window_start(on) - timedelta(days=1), time(0), tzinfo=UTC)
    rows = Result.objects.failures().filter(step__inspection__machine__in=ids, step__inspection__signed_at__gte=since)
    fields = ("machine", "pk", "signed_at")
    names = [*(f"step__inspection__{field}" for field in fields), "step__title", "step__subject", "label", "decision"]
    for machine, pk, signed_at, title, subject, label, decision in rows.order_by(names[2], "pk").values_list(*names):
        day = signed_at.astimezone(zones[machine]).date()
        if day <= on:
            step = f"{title}: {subject}" if subject else title
            found[machine].append(Event(day, f"{step}, {label.lower()}: {decision}", link.of(pk)))
    return found


class _Address:
    """Addresses of many records of one kind, resolved once: resolving each would take longer than the review.

    Without records none is, so that a command that registers machines loads no pages.
    """

    PLACE = 987_654_321

    def __init__(self, name):
        self.name = name

    @cached_property
    def _around(self):
        return reverse(self.name, args=[self.PLACE]).split(str(self.PLACE))

    def of(self, pk):
        return str(pk).join(self._around)


def _first_days(ids, zones):
    """Map machines to the first day of their record here: entered, an inspection planned, or a finding opened."""
    moments = defaultdict(list)
    sources = ((Inspection, "planned_at"), (Finding, "opened_at"), (StatusChange, "recorded_at"))
    for model, field in sources:
        rows = model.objects.filter(machine__in=ids).order_by().values_list("machine").annotate(first=Min(field))
        for machine, moment in rows:
            moments[machine].append(moment)
    return {machine: min(found).astimezone(zones[machine]).date() for machine, found in moments.items()}


def _hours_down(ids, zones, on):
    """Map machines to the hours that they were withdrawn within the window of the review."""
    changes = defaultdict(list)
    rows = StatusChange.objects.filter(machine__in=ids, changed_on__lte=on).order_by("changed_on", "recorded_at", "pk")
    for machine, status, changed_on, recorded_at in rows.values_list("machine", "status", "changed_on", "recorded_at"):
        changes[machine].append((_moment(changed_on, recorded_at, zones[machine]), status))
    return defaultdict(float, {pk: _withdrawn_hours(found, zones[pk], on) for pk, found in changes.items()})


def _moment(changed_on, recorded_at, zone):
    """The moment of a change: when it was recorded, if on the very day, else the first hour of its day."""
    if recorded_at.astimezone(zone).date() == changed_on:
        return recorded_at
    return datetime.combine(changed_on, time(0), tzinfo=zone)


def _withdrawn_hours(changes, zone, on):
    start = datetime.combine(window_start(on), time(0), tzinfo=zone)
    end = datetime.combine(on + timedelta(days=1), time(0), tzinfo=zone)
    following = [moment for moment, _ in changes[1:]] + [end]
    hours = 0.0
    for (moment, status), until in zip(changes, following, strict=True):
        if status == "withdrawn":
            hours += max(0.0, (min(until, end) - max(moment, start)).total_seconds() / 3600)
    return hours


def _judgements(ids, zones, on):
    """Map machines to their judgements by criterion; of several the latest counts."""
    found = defaultdict(dict)
    rows = CriterionJudgement.objects.filter(machine__in=ids).select_related("by").order_by("at", "pk")
    for each in rows:
        day = each.at.astimezone(zones[each.machine_id]).date()
        if day <= on:
            is_met = each.answer == CriterionJudgement.Answer.MET
            found[each.machine_id][each.criterion] = Judgement(is_met, each.reason, str(each.by), day)
    return found


def can_be_judged(criterion, facts: MachineFacts) -> bool:
    """Return whether a person answers this criterion for this machine, because no record does."""
    if criterion.decided_by is DecidedBy.UPKEEP:
        return facts.upkeep.on(facts.on) is None
    if criterion.decided_by is DecidedBy.TREND:
        days = [event.on for event in facts.findings]
        return trend_of_days(days, facts.watched_from or facts.on, facts.on) is None
    return criterion.decided_by is DecidedBy.JUDGEMENT


def work_by_year(machine):
    """Return (year, findings, hours of work on closed ones) of a machine, the latest year first; one query."""
    faults = Finding.objects.of_faults().filter(machine=machine).order_by()
    by_year = faults.annotate(year=ExtractYear("opened_at")).values("year")
    counted = by_year.annotate(findings=Count("pk"), hours=Sum("work_hours")).order_by("-year")
    return [(row["year"], row["findings"], row["hours"] or 0) for row in counted]
