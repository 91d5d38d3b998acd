"""The current state of machines, computed from their records: the only place that says what a row holds."""

from django.db.models import Exists, OuterRef

from fleet.catalogue.feature_bits import BIT, ESSENTIAL_MASK, standings
from fleet.catalogue.gaps import Standing
from fleet.extensions import annotated_machines, counted_machines
from fleet.models import AwayPeriod, CurrentState, FeatureState, Machine

COLUMNS = tuple(field.attname for field in CurrentState._meta.concrete_fields)
WORK = ("next_due_id", "next_due_on", "next_closes_on")
FINDINGS = ("open_findings", "essential_findings")


def computed(keys, using):
    """Return the states that the machines with these keys should have, as unsaved rows by key; two queries.

    A machine that is gone, or that an import is still entering, has none.
    """
    machines = Machine.objects.using(using).filter(pk__in=keys).select_related("area", "model").order_by()
    machines = machines.annotate(is_away=Exists(AwayPeriod.objects.now().filter(machine=OuterRef("pk"))))
    machines = counted_machines(annotated_machines(machines))
    told = _features_of(keys, using)
    return {machine.pk: _state(machine, told.get(machine.pk)) for machine in machines}


def _state(machine, told):
    told = told or _Told()
    judged = standings(machine.model.equipment, told.fitted, told.not_fitted)
    days = [machine.in_use_from, *told.days]
    return CurrentState(
        machine_id=machine.pk, asset_number=machine.asset_number,
        searched=f"{machine.asset_number}\n{machine.serial}", status=machine.status, area_id=machine.area_id,
        site_id=machine.area.site_id, model_id=machine.model_id, is_away=machine.is_away,
        fitted=told.fitted, not_fitted=told.not_fitted, gaps=judged[Standing.GAP], doubts=judged[Standing.DOUBT],
        missing=(judged[Standing.GAP] & ESSENTIAL_MASK).bit_count(), holds_from=max(days),
        **{name: getattr(machine, name, None) for name in WORK},
        **{name: getattr(machine, name, 0) for name in FINDINGS},
    )  # fmt: skip


class _Told:
    """What the history of one machine says of its features now, and the days on which it changed."""

    __slots__ = ("days", "fitted", "not_fitted")

    def __init__(self):
        self.fitted = self.not_fitted = 0
        self.days = set()


def _features_of(keys, using):
    found = {}
    rows = FeatureState.objects.using(using).filter(machine__in=keys).order_by()
    for machine, feature, state, begun, ended in rows.values_list(
        "machine", "feature", "state", "from_date", "until_date"
    ):
        told = found.setdefault(machine, _Told())
        told.days.add(begun)
        if ended is not None:
            told.days.add(ended)
        elif state == "fitted":
            told.fitted |= BIT.get(feature, 0)
        elif state == "not fitted":
            told.not_fitted |= BIT.get(feature, 0)
    return found
