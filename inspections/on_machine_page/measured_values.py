"""What the bench last measured of the parts of a gas circuit, for the circuit to count with in place of plates."""

from collections import defaultdict
from dataclasses import dataclass
from functools import lru_cache

from django.db.models import F, Window
from django.db.models.functions import RowNumber
from django.utils import timezone

from fleet.circuits.machine_circuit import read_and_check
from fleet.documents import long_date
from fleet.models import Component, MachineModel
from inspections.models import Result
from inspections.models.querysets.inspections import SIGNED_STAGES


@dataclass(frozen=True, slots=True)
class Measures:
    """Which value of which components a result measures. `gas` is that of the components; empty: that of the step's
    subject.
    """

    kinds: tuple[str, ...]
    key: str
    gas: str = ""


CUT = Measures(("supply-failure-valve", "regulator-cutoff"), "cut_pressure")
ALARM = Measures(("oxygen-alarm",), "alarm_pressure", "oxygen")
MEASURES = {  # (test, result) -> what it measures; a proportioning valve has shut where the other gas has stopped
    ("supply-failure", "trip_pressure"): CUT,
    ("supply-failure", "zero_pressure"): CUT,
    ("supply-failure", "alarm_pressure"): ALARM,
    ("regulator", "static_pressure"): Measures(("pressure-regulator",), "output_pressure"),
    ("low-pressure-leak", "leak_standard"): Measures(("flow-bank",), "leak_flow"),
    ("breathing-system-leak", "leak_standard"): Measures(("absorber",), "leak_flow"),
}
KINDS = frozenset(kind for measures in MEASURES.values() for kind in measures.kinds)
COLUMNS = (
    "step__inspection__machine", "step__test_code", "step__subject", "step__component", "key", "value",
    "step__inspection__signed_at",
)  # fmt: skip


def measured_values(machines):
    """Return what was measured on each machine at its last signed inspection of each kind, by machine key.

    {(component key or component code, value key): (SI value, words)}; three queries whatever the number of machines.
    """
    rows = list(_last_results(machines))
    if not rows:
        return {}
    components = _components_of(machines)
    found = defaultdict(dict)
    for machine, test, subject, component, key, value, signed_at in rows:
        measures = MEASURES[test, key]
        words = f"bench, {long_date(timezone.localtime(signed_at).date())}"
        for which in _components_measured(measures, subject, component, components[machine]):
            found[machine][which, measures.key] = (value, words)
    return dict(found)


def _last_results(machines):
    """The latest figure of each kind on each subject, the earlier signed first: a later one then counts.

    The database reads every result of these machines; the caller keeps the ones that measure a component.
    """
    rank = Window(
        RowNumber(),
        partition_by=[F("step__inspection__machine"), F("step__test_code"), F("step__subject"), F("key")],
        order_by=[F("step__inspection__signed_at").desc(), F("pk").desc()],
    )
    asked = Result.objects.filter(
        value__isnull=False,
        step__inspection__machine__in=[machine.pk for machine in machines],
        step__inspection__stage__in=SIGNED_STAGES,
    )
    ranked = asked.annotate(rank=rank).filter(rank=1).order_by("step__inspection__signed_at", "pk")
    return (row for row in ranked.values_list(*COLUMNS) if (row[1], row[4]) in MEASURES)


def _components_of(machines):
    """By machine key: (kind, gas) -> keys of its recorded components, or, where none is joined, codes of its
    model's.
    """
    texts = dict(
        MachineModel.objects.filter(pk__in={machine.model_id for machine in machines}).values_list("pk", "circuit")
    )
    recorded = defaultdict(lambda: defaultdict(list))
    rows = Component.objects.on(timezone.localdate()).filter(machine__in=[m.pk for m in machines], kind__in=KINDS)
    for machine, kind, gas, pk in rows.order_by("pk").values_list("machine", "kind", "gas", "pk"):
        recorded[machine][kind, gas].append(pk)
    return {m.pk: recorded[m.pk] if m.pk in recorded else _of_text(texts[m.model_id]) for m in machines}


@lru_cache(maxsize=256)
def _of_text(text):
    circuit = read_and_check(text, "circuit")[0] if text else None
    found = defaultdict(list)
    for component in circuit.components if circuit else ():
        found[component.kind, component.gas].append(component.code)
    return found


def _components_measured(measures, subject, component, components):
    """Keys or codes of the components that a figure is about: the component on the bench, else those of the kind and
    the gas.
    """
    if component:
        return [component]
    gas = measures.gas or subject
    return [which for kind in measures.kinds for which in components.get((kind, gas), ())]
