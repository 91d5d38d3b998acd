"""The standing of safety features over many machines, in few database queries.

What a state means (`fleet.catalogue.gaps.judge_feature`) is repeated here in SQL; a test compares the two.
"""

from collections.abc import Sequence

from django.db.models import Case, Count, Exists, OuterRef, Q, Subquery, Value, When

from fleet.catalogue import Feature, absent_needs
from fleet.catalogue.gaps import Standing
from fleet.models import StatusChange, FeatureState, Machine, MachineModel

NOTHING = Q(pk__in=[])
FEW = 10


class Unneeded:
    """The machine models on which a feature does not apply, read once."""

    def __init__(self):
        kinds = [(kind.pk, kind.equipment) for kind in MachineModel.objects.all()]
        self._kinds = kinds
        self._by_code = {}

    def models(self, feature: Feature) -> frozenset[int]:
        """Return the keys of the models on which `feature` does not apply."""
        if feature.code not in self._by_code:
            found = frozenset(pk for pk, equipment in self._kinds if absent_needs(feature, equipment))
            self._by_code[feature.code] = found
        return self._by_code[feature.code]


def select_machines(wanted, person, unneeded: Unneeded):
    """Return the machines that `person` may see and the filter selects, as a queryset ordered by asset number."""
    machines = Machine.objects.visible_to(person) if person else Machine.objects.all()
    machines = with_status(machines.filter(in_use_from__lte=wanted.on), wanted)
    for path, value in (("area__site", wanted.site), ("area", wanted.area), ("model", wanted.model)):
        if value is not None:
            machines = machines.filter(**{path: value})
    if wanted.standing:
        machines = machines.filter(standing_q(wanted.subject, Standing(wanted.standing), wanted.on, unneeded))
    return machines.order_by("asset_number")


def with_status(machines, wanted):
    """Keep the machines by the status that they had on the day of the report."""
    path = "status"
    if wanted.on != wanted.today:
        changes = StatusChange.objects.filter(machine=OuterRef("pk"), changed_on__lte=wanted.on)
        latest = changes.order_by("-changed_on", "-recorded_at", "-pk").values("status")[:1]
        machines, path = machines.annotate(status_then=Subquery(latest)), "status_then"
    if wanted.status == "all":
        return machines
    if wanted.status == "not retired":
        return machines.exclude(**{path: "retired"})
    return machines.filter(**{path: wanted.status})


def gap_states(features: Sequence[Feature], on, unneeded: Unneeded):
    """Return the feature states that are gaps on the day `on`: recorded, bad, needed, and not replaced."""
    unwanted = [feature.code for feature in features if feature.is_unwanted]
    wanted = [feature.code for feature in features if not feature.is_unwanted]
    bad = Q(feature__in=wanted, state="not fitted") | Q(feature__in=unwanted, state="fitted")
    states = FeatureState.objects.on(on).filter(bad).order_by()
    pointless = NOTHING
    for feature in features:
        if unneeded.models(feature):
            pointless |= Q(feature=feature.code, machine__model__in=unneeded.models(feature))
    return states.exclude(pointless).exclude(_replaced(features, on, OuterRef("machine")))


def stand_ins(features: Sequence[Feature]) -> dict[tuple[str, ...], list[str]]:
    """Group the codes of the features by the codes of the features that can replace them."""
    groups = {}
    for feature in features:
        if feature.fulfilled_by:
            groups.setdefault(feature.fulfilled_by, []).append(feature.code)
    return groups


def fitted_any(codes: Sequence[str], on, machine):
    """Return the condition that one of the features `codes` is fitted on `machine` (an OuterRef) on the day `on`."""
    return Exists(FeatureState.objects.on(on).filter(machine=machine, feature__in=codes, state="fitted"))


def _replaced(features, on, machine):
    found = NOTHING
    for codes, served in stand_ins(features).items():
        found |= Q(feature__in=served) & fitted_any(codes, on, machine)
    return found


def standing_q(features: Sequence[Feature], standing: Standing, on, unneeded: Unneeded) -> Q:
    """Return the condition on machines that at least one of the features has that standing."""
    if standing is Standing.GAP:
        return Q(Exists(gap_states(features, on, unneeded).filter(machine=OuterRef("pk"))))
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
        good = "not fitted" if feature.is_unwanted else "fitted"
        return Exists(told.filter(state=good)) & (~is_pointless if feature.is_unwanted else ~NOTHING)
    if standing is Standing.DOUBT:
        return ~is_pointless & ~Exists(told.filter(state__in=known)) & ~Q(replaced)
    is_fitted = NOTHING if feature.is_unwanted else Q(Exists(told.filter(state="fitted")))
    if standing is Standing.REPLACED:
        return ~is_pointless & ~is_fitted & Q(replaced)
    return is_pointless & ~is_fitted


def machine_groups(machines, features: Sequence[Feature], on):
    """Count the machines by model and by which stand-ins are fitted: rows of (model, flags by stand-ins, count)."""
    groups = tuple(stand_ins(features))
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
        for codes, served in stand_ins(features).items()
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
    gaps = gap_states(features, on, unneeded).filter(machine__in=machines.order_by().values("pk"))
    counts = {
        f"n_{index}": Count("machine", distinct=True, filter=Q(feature__in=[f.code for f in served]))
        for index, served in enumerate(by_hazard.values())
    }
    found = gaps.aggregate(**counts)
    return dict(zip(by_hazard, found.values(), strict=True))


def gap_counts_by_area(machines, features: Sequence[Feature], on, unneeded: Unneeded) -> dict[int, tuple[int, int]]:
    """Return, by area, how many machines have a gap among the features and how many gaps there are."""
    gaps = gap_states(features, on, unneeded).filter(machine__in=machines.order_by().values("pk"))
    rows = gaps.values_list("machine__area").annotate(machines=Count("machine", distinct=True), gaps=Count("pk"))
    return {area: (with_gap, count) for area, with_gap, count in rows}


def machines_by_area(machines):
    """Count the machines by area: rows of (area, area name, site name, count), by site and name."""
    rows = machines.order_by("area__site__name", "area__name")
    return rows.values_list("area", "area__name", "area__site__name", "area__site").annotate(n=Count("pk"))
