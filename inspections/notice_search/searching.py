"""The machines, components and instruments that a notice concerns, or that cannot be decided.

The database leaves out what is of another kind, model or manufacturer; what remains is read in batches as plain values
and compared in Python, so that 100,000 components are never held at once.
"""

from collections.abc import Iterator
from functools import cache
from typing import NamedTuple

from django.db.models import Exists, OuterRef, Q

from fleet.circuits.machine_circuit import circuit_of_model
from fleet.models import CircuitChange, Component, Instrument, Machine, MachineModel
from inspections.models import NoticeCriterion
from inspections.notices.answers import Answer, Match
from inspections.notices.criteria import Criterion, Facts, answer_of

BATCH = 2000
What = NoticeCriterion.What


class Found(NamedTuple):
    """`what` and `pk` name the thing; `machine` is the key of the machine of a component."""

    what: str
    pk: int
    machine: int | None
    answer: Answer

    @property
    def key(self):
        return self.what, self.pk


def candidates(what, criteria):
    """Return the rows of one sort that the criteria may name: all that is of their kind, model and manufacturer."""
    rows, narrow = SORTS[what][:2]
    wanted = Q()
    for one in criteria:
        wanted |= narrow(one)
    return rows().filter(wanted).order_by("pk")


def looked_at(criteria):
    """Return how many rows of each sort are looked at; among machines, those without a record of such a component."""
    found = {what: candidates(what, lines).count() for what, lines in _by_what(criteria).items()}
    without = sum(_without_component(one).count() for one in criteria if one.what == What.COMPONENT)
    return found | {What.MACHINE: found.get(What.MACHINE, 0) + without}


def found_items(criteria) -> Iterator[Found]:
    """Yield all that are or may be concerned, each once. Reads the register in batches."""
    for what, lines in _by_what(criteria).items():
        plain, (_, _, columns, facts_of) = [one.as_criterion for one in lines], SORTS[what]
        for row in candidates(what, lines).values_list("pk", *columns).iterator(chunk_size=BATCH):
            answer = answer_of(plain, facts_of(row))
            if answer.match is not Match.NOT_CONCERNED:
                yield Found(str(what), row[0], row[1] if what == What.COMPONENT else None, answer)
        if what == What.COMPONENT:
            yield from _not_recorded(lines)


def _not_recorded(lines):
    """Yield the machines of which nobody recorded a component of the kind, although they have or may have one."""
    kinds_of = cache(_kinds_of)
    for one in lines:
        plain = Criterion(built_from=one.built_from, built_to=one.built_to)
        columns = ("pk", "model", "built_year")
        for pk, model, built in _without_component(one).values_list(*columns).iterator(chunk_size=BATCH):
            kinds = kinds_of(model)
            is_possible = kinds is None or one.kind in kinds
            if is_possible and plain.answer(Facts(built_year=built)).match is not Match.NOT_CONCERNED:
                yield Found(str(What.MACHINE), pk, None, Answer(Match.UNDECIDED, _why(one, kinds)))


def _without_component(one):
    """Return the machines that the line may name, with no record of such a component and no circuit of their own."""
    own = Component.objects.filter(machine=OuterRef("pk"), kind=one.kind)
    copied = CircuitChange.objects.filter(machine=OuterRef("pk"), verb=CircuitChange.Verb.COPIED)
    return Machine.objects.filter(_of_model(one)).filter(~Exists(own), ~Exists(copied)).order_by("pk")


def _kinds_of(model):
    """Return the kinds of component that machines of a model had when new, None where its circuit is not known."""
    circuit = circuit_of_model(MachineModel.objects.prefetch_related("features").get(pk=model)).circuit
    return None if circuit is None else {component.kind for component in circuit.components}


def _why(one, kinds):
    kind = one.get_kind_display()
    if kinds is None:
        return f"no {kind} is recorded, and the circuit of its model is not known"
    return f"its {kind} is not recorded, with neither serial number nor lot; machines of its model have one"


def _by_what(criteria):
    found = {}
    for one in criteria:
        found.setdefault(What(one.what), []).append(one)
    return found


def _machines():
    return Machine.objects.all()


def _components():
    """All that are or were fitted; not what was entered by mistake and undone, nor what an import is still entering."""
    return Component.objects.filter(machine__staged="", fitted_in__undone_at__isnull=True)


def _instruments():
    return Instrument.objects.all()


def _of_model(one, path=""):
    wanted = Q(pk__isnull=False)
    if one.model_id:
        wanted &= Q(**{f"{path}model": one.model_id})
    if one.manufacturer:
        wanted &= Q(**{f"{path}model__manufacturer__iexact": one.manufacturer})
    return wanted


def _of_component(one):
    of_model = _of_model(one, "machine__")
    return of_model & Q(kind=one.kind) if one.kind else of_model


def _of_instrument(one):
    return Q(name__icontains=one.name) if one.name else Q(pk__isnull=False)


def _machine_facts(row):
    _, model, manufacturer, serial, built = row
    return Facts(manufacturer=manufacturer, model=model, serial=serial, built_year=built)


def _component_facts(row):
    _, _, kind, part_number, serial, lot, model, manufacturer, built = row
    return Facts(
        kind=kind, part_number=part_number, serial=serial, lot=lot, model=model, manufacturer=manufacturer,
        built_year=built,
    )  # fmt: skip


def _instrument_facts(row):
    _, name, serial = row
    return Facts(name=name, serial=serial)


SORTS = {
    What.MACHINE: (_machines, _of_model, ("model", "model__manufacturer", "serial", "built_year"), _machine_facts),
    What.COMPONENT: (
        _components,
        _of_component,
        (
            "machine", "kind", "part_number", "serial", "lot", "machine__model", "machine__model__manufacturer",
            "machine__built_year",
        ),
        _component_facts,
    ),
    What.INSTRUMENT: (_instruments, _of_instrument, ("name", "serial"), _instrument_facts),
}  # fmt: skip
