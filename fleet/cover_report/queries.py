"""The standing of safety features over many machines, in few database queries.

What a state means is the rule of `fleet.catalogue.gaps.judge_feature`, as SQL; tests/fleet/cover_report/test_report.py
compares the two.
"""

from collections.abc import Sequence

from django.db.models import Case, Count, Exists, OuterRef, Q, Subquery, Value, When

from fleet.catalogue import Feature
from fleet.catalogue.gaps import Standing, by_stand_ins, good_state
from fleet.cover_report.by_rows import stored_standing_q
from fleet.current_state.reading import holds_on
from fleet.models import Area, FeatureState, Machine, StatusChange
from fleet.models.querysets import features as feature_queries
from fleet.models.querysets.area_periods import area_on
from fleet.models.querysets.features import NOTHING

FEW = 10


class Unneeded(feature_queries.Unneeded):
    """What a report needs to know once: also whether the current states of the machines can be used for a day."""

    def __init__(self):
        super().__init__()
        self._by_day = {}

    def has_current(self, wanted):
        """Return whether the rows say what the report asks for; never for a past day, which has areas of its own."""
        if wanted.is_past:
            return False
        if wanted.on not in self._by_day:
            self._by_day[wanted.on] = holds_on(wanted.on)
        return self._by_day[wanted.on]


def select_machines(wanted, person, unneeded: Unneeded):
    """Return the machines that `person` may see and the filter selects, as a queryset ordered by asset number.

    A report of a past day takes the areas and sites of that day, also for what the person may see.
    """
    machines = with_status(_seen_by(person, wanted).filter(in_use_from__lte=wanted.on), wanted)
    site, area = ("site_then", "area_then") if wanted.is_past else ("area__site", "area")
    for path, value in ((site, wanted.site), (area, wanted.area), ("model", wanted.model)):
        if value is not None:
            machines = machines.filter(**{path: value.pk})
    if wanted.standing:
        machines = machines.filter(_asked_standing(wanted, unneeded))
    return machines.order_by("asset_number")


def _asked_standing(wanted, unneeded):
    standing = Standing(wanted.standing)
    stored = stored_standing_q(wanted.subject, standing)
    if stored is not None and unneeded.has_current(wanted):
        return stored
    return standing_q(wanted.subject, standing, wanted.on, unneeded)


def _seen_by(person, wanted):
    if wanted.is_past:
        return Machine.objects.visible_on(person, wanted.on) if person else Machine.objects.with_area_on(wanted.on)
    return Machine.objects.visible_to(person) if person else Machine.objects.all()


def with_status(machines, wanted):
    """Keep the machines by the status that they had on the day of the report."""
    path = "status"
    if wanted.is_past:
        changes = StatusChange.objects.filter(machine=OuterRef("pk"), changed_on__lte=wanted.on)
        latest = changes.order_by("-changed_on", "-recorded_at", "-pk").values("status")[:1]
        machines, path = machines.annotate(status_then=Subquery(latest)), "status_then"
    if wanted.status == "all":
        return machines
    if wanted.status == "not retired":
        return machines.exclude(**{path: "retired"})
    return machines.filter(**{path: wanted.status})


def fitted_any(codes: Sequence[str], on, machine):
    """Return the condition that one of the features `codes` is fitted on `machine` (an OuterRef) on the day `on`."""
    return Exists(FeatureState.objects.fitted(codes, on).filter(machine=machine))


def standing_q(features: Sequence[Feature], standing: Standing, on, unneeded: Unneeded) -> Q:
    """Return the condition on machines that at least one of the features has that standing."""
    if standing is Standing.GAP:
        return Q(Exists(FeatureState.objects.gaps(features, on, unneeded).filter(machine=OuterRef("pk"))))
    found = NOTHING
    for feature in features:
        found |= _one_standing(feature, standing, on, unneeded)
    return found


def _one_standing(feature, standing, on, unneeded):
    told = FeatureState.objects.on(on).filter(machine=OuterRef("pk"), feature=feature.code)
    is_pointless = Q(model__in=unneeded.models(feature))
    known = ["fitted", "not fitted"]
    replaced = fitted_any(feature.fulfilled_by, on, OuterRef("pk")) if feature.fulfilled_by else NOTHING
    if standing is Standing.COVERED:
        return Exists(told.filter(state=good_state(feature))) & (~is_pointless if feature.is_unwanted else ~NOTHING)
    if standing is Standing.DOUBT:
        return ~is_pointless & ~Exists(told.filter(state__in=known)) & ~Q(replaced)
    is_fitted = NOTHING if feature.is_unwanted else Q(Exists(told.filter(state="fitted")))
    if standing is Standing.REPLACED:
        return ~is_pointless & ~is_fitted & Q(replaced)
    return is_pointless & ~is_fitted


def machine_groups(machines, features: Sequence[Feature], on):
    """Count the machines by model and by which stand-ins are fitted: rows of (model, flags by stand-ins, count)."""
    groups = tuple(by_stand_ins(features))
    flags = {f"flag_{n}": fitted_any(codes, on, OuterRef("pk")) for n, codes in enumerate(groups)}
    rows = machines.order_by().annotate(**flags).values_list("model", *flags).annotate(n=Count("pk"))
    return [(row[0], dict(zip(groups, row[1:-1], strict=True)), row[-1]) for row in rows]


def state_groups(machines, features: Sequence[Feature], on):
    """Count the known states by feature, state, model and whether a stand-in is fitted: rows of five.

    Asked for more than FEW features it counts all of them: SQLite looks up each named feature of each machine, which
    takes longer than reading them all.
    """
    cases = [
        When(feature__in=served, then=fitted_any(codes, on, OuterRef("machine")))
        for codes, served in by_stand_ins(features).items()
    ]
    known = FeatureState.objects.on(on).filter(
        machine__in=machines.order_by().values("pk"), state__in=["fitted", "not fitted"]
    )
    if len(features) <= FEW:
        known = known.filter(feature__in=[feature.code for feature in features])
    flagged = known.order_by().annotate(is_replaced=Case(*cases, default=Value(False)))
    return flagged.values_list("feature", "state", "machine__model", "is_replaced").annotate(n=Count("pk"))


def gap_counts_by_hazard(machines, by_hazard: dict[str, list[Feature]], on, unneeded: Unneeded) -> dict[str, int]:
    """Count, for each hazard, the machines with a gap among the features that cover it; one query."""
    features = list({feature.code: feature for served in by_hazard.values() for feature in served}.values())
    gaps = FeatureState.objects.gaps(features, on, unneeded).filter(machine__in=machines.order_by().values("pk"))
    counts = {
        f"n_{index}": Count("machine", distinct=True, filter=Q(feature__in=[f.code for f in served]))
        for index, served in enumerate(by_hazard.values())
    }
    found = gaps.aggregate(**counts)
    return dict(zip(by_hazard, found.values(), strict=True))


def gap_counts_by_area(machines, features: Sequence[Feature], wanted, unneeded: Unneeded) -> dict[int, tuple[int, int]]:
    """Return, by area, how many machines have a gap among the features and how many gaps there are."""
    gaps = FeatureState.objects.gaps(features, wanted.on, unneeded)
    gaps = gaps.filter(machine__in=machines.order_by().values("pk"))
    path = "machine__area"
    if wanted.is_past:
        gaps, path = gaps.annotate(area_then=area_on(wanted.on, "machine", path)), "area_then"
    rows = gaps.values_list(path).annotate(machines=Count("machine", distinct=True), gaps=Count("pk"))
    return {area: (with_gap, count) for area, with_gap, count in rows}


def machines_by_area(machines, wanted):
    """Count the machines by area: rows of (area, area name, site name, site, count), by site and name."""
    if not wanted.is_past:
        rows = machines.order_by("area__site__name", "area__name")
        return rows.values_list("area", "area__name", "area__site__name", "area__site").annotate(n=Count("pk"))
    return named_areas(dict(machines.order_by().values_list("area_then").annotate(n=Count("pk"))))


def named_areas(counts: dict[int, int]):
    """Return a number for each area as rows of (area, area name, site name, site, number), by site and name."""
    areas = Area.objects.filter(pk__in=counts).order_by("site__name", "name")
    return [(*row, counts[row[0]]) for row in areas.values_list("pk", "name", "site__name", "site")]


def at_areas_then(machines: Sequence[Machine], wanted) -> Sequence[Machine]:
    """Give machines that are only shown, never saved, the area in which they were on the day of the report."""
    if wanted.is_past:
        areas = Area.objects.select_related("site").in_bulk({machine.area_then for machine in machines})
        for machine in machines:
            machine.area = areas[machine.area_then]
    return machines
