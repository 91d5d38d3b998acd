"""The current state of machines, computed from their records: the only place that says what a row holds."""

from django.db.models import Exists, OuterRef

from fleet.acting.keys import only_condition
from fleet.acting.shared_values import shared_values
from fleet.catalogue.feature_bits import BIT, ESSENTIAL_MASK, standings
from fleet.catalogue.gaps import Standing
from fleet.extensions import annotated_machines, counted_machines
from fleet.models import AwayPeriod, CurrentState, FeatureState, Machine, MachineModel

COLUMNS = tuple(field.attname for field in CurrentState._meta.concrete_fields)
OF_MACHINE = ("pk", "asset_number", "serial", "status", "area", "area__site", "model", "is_away", "in_use_from")
OF_MODEL = ("gases", "lacks", "vaporizer_positions")  # from which the equipment of its machines follows
WORK = ("next_due_id", "next_due_on", "next_closes_on")
FINDINGS = ("open_findings", "essential_findings")


def computed(keys, using):
    """Return the states that the machines with these sorted keys should have, as unsaved rows by key; two queries.

    A machine that is gone, or that an import is still entering, has none.
    """
    machines = Machine.objects.using(using).filter(**only_condition("pk", keys)).order_by()
    machines = machines.annotate(is_away=Exists(AwayPeriod.objects.now().filter(machine=OuterRef("pk"))))
    machines = counted_machines(annotated_machines(machines))
    added = (name for name in (*WORK, *FINDINGS) if name in machines.query.annotations)
    names = (*OF_MACHINE, *(f"model__{name}" for name in OF_MODEL), *added)
    found = [dict(zip(names, row, strict=True)) for row in shared_values(machines, *names)]
    told = _features_of(sorted(machine["pk"] for machine in found), using) if found else {}
    known = {}
    return {machine["pk"]: _state(machine, told.get(machine["pk"]) or _Told(), known) for machine in found}


def _state(machine, told, known):
    gaps, doubts = _judged(machine, told, known)
    return CurrentState(
        machine_id=machine["pk"], asset_number=machine["asset_number"],
        searched=f"{machine['asset_number']}\n{machine['serial']}", status=machine["status"],
        area_id=machine["area"], site_id=machine["area__site"], model_id=machine["model"], is_away=machine["is_away"],
        fitted=told.fitted, not_fitted=told.not_fitted, gaps=gaps, doubts=doubts,
        missing=(gaps & ESSENTIAL_MASK).bit_count(), holds_from=max([machine["in_use_from"], *told.days]),
        **{name: machine.get(name) for name in WORK}, **{name: machine.get(name, 0) for name in FINDINGS},
    )  # fmt: skip


def _judged(machine, told, known):
    """Return the features that are gaps and those in doubt. Machines of a model are often alike: `known` keeps it."""
    key = (machine["model"], told.fitted, told.not_fitted)
    if key not in known:
        model = MachineModel(**{name: machine[f"model__{name}"] for name in OF_MODEL})
        judged = standings(model.equipment, told.fitted, told.not_fitted)
        known[key] = (judged[Standing.GAP], judged[Standing.DOUBT])
    return known[key]


class _Told:
    """What the history of one machine says of its features now, and the days on which it changed."""

    __slots__ = ("days", "fitted", "not_fitted")

    def __init__(self):
        self.fitted = self.not_fitted = 0
        self.days = set()


def _features_of(keys, using):
    found = {}
    rows = FeatureState.objects.using(using).filter(**only_condition("machine", keys)).order_by()
    for machine, feature, state, begun, ended in shared_values(
        rows, "machine", "feature", "state", "from_date", "until_date"
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
