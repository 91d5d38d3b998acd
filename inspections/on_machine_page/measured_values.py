"""What the bench last measured of the parts of a gas circuit, for the circuit to count with in place of plates."""

from collections import defaultdict
from dataclasses import dataclass
from functools import lru_cache

from django.db.models import F, Window
from django.db.models.functions import RowNumber
from django.utils import timezone

from fleet.circuits.machine_circuit import read_and_check
from fleet.extensions import MeasuredValue
from fleet.models import Component, MachineModel
from fleet.web.at_site import day_words
from inspections.bench.oxygen_sweeps import NOT_CUT_OFF
from inspections.models import Result
from inspections.models.querysets.inspections import SIGNED_STAGES


@dataclass(frozen=True, slots=True)
class Measures:
    """Which value of which components a result measures, and which failure a failed one is evidence of.

    key      empty if the result shows only whether the component has failed
    gas      that of the components; empty: that of the step's subject
    failure  the failure that a failed result is evidence of
    if_words a failed result is evidence of it only with these words in its remark
    """

    kinds: tuple[str, ...]
    key: str
    gas: str = ""
    failure: str = ""
    if_words: str = ""

    def measured(self, value, decision, remark, words):
        """Return the MeasuredValue of a result; None if it says nothing of the component."""
        has_failed = decision in FAILED
        if self.failure and has_failed and self.if_words in remark:
            return MeasuredValue(None, words, decision, self.failure)
        return MeasuredValue(value, words, decision) if self.key else None


FAILED = ("fail", "conditional fail")
CUTTING = ("supply-failure-valve", "regulator-cutoff")
CUT = Measures(CUTTING, "cut_pressure", failure="stuck open", if_words=NOT_CUT_OFF)
# Gas that flows on without oxygen pressure was not cut off, whatever else was measured.
RESIDUAL = Measures(CUTTING, "", failure="stuck open")
ALARM = Measures(("oxygen-alarm",), "alarm_pressure", "oxygen")
MEASURES = {  # (test, result) -> what it measures; a proportioning valve has shut where the other gas has stopped
    ("supply-failure", "trip_pressure"): CUT,
    ("supply-failure", "zero_pressure"): CUT,
    ("supply-failure", "residual_flow"): RESIDUAL,
    ("supply-failure", "alarm_pressure"): ALARM,
    ("regulator", "static_pressure"): Measures(("pressure-regulator",), "output_pressure"),
    ("low-pressure-leak", "leak_standard"): Measures(("flow-bank",), "leak_flow"),
    ("breathing-system-leak", "leak_standard"): Measures(("absorber",), "leak_flow"),
}
KINDS = frozenset(kind for measures in MEASURES.values() for kind in measures.kinds)
COLUMNS = (
    "step__inspection__machine", "step__test_code", "step__subject", "step__component", "key", "value", "decision",
    "remark", "step__inspection__signed_at",
)  # fmt: skip


def measured_values(machines):
    """Return what was measured on each machine at its last signed inspection of each kind, by machine key.

    {(component key or component code, key of the value or result): MeasuredValue}; three queries for any machines.
    """
    rows = list(_last_results(machines))
    if not rows:
        return {}
    components = _components_of(machines)
    found = defaultdict(dict)
    for machine, test, subject, component, key, value, decision, remark, signed_at in rows:
        measures = MEASURES[test, key]
        measured = measures.measured(value, decision, remark, f"bench, {day_words(signed_at)}")
        if measured is not None:
            for which in _components_measured(measures, subject, component, components[machine]):
                found[machine][which, measures.key or key] = measured
    return dict(found)


def _last_results(machines):
    """The latest figure of each kind on each subject, as left where it was repaired, the earlier signed first: a later
    one then counts.

    The database reads every result of these machines; the caller keeps the ones that measure a component.
    """
    rank = Window(
        RowNumber(),
        partition_by=[F("step__inspection__machine"), F("step__test_code"), F("step__subject"), F("key")],
        order_by=[F("step__inspection__signed_at").desc(), F("step__set_number").desc(), F("pk").desc()],
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
