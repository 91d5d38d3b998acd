"""The background job that computes what a planned alteration does to the circuit of each of its machines."""

from django.db import transaction
from django.utils import timezone

from fleet.actions import request_job
from fleet.altering.effects import Effects
from fleet.circuits.measured_circuit import circuits_as_measured
from fleet.errors import JobRefused
from fleet.jobs import Result, job_kind
from fleet.models import AlterationEffect, AlterationOfMachine, AlterationPlan, Machine

ALTERATION_EFFECT = "alteration-effect"
CHUNK = 50


def request_effects(plan, *, by, at):
    return request_job(
        ALTERATION_EFFECT, title=f"What it changes: {plan.title}", params={"plan": plan.pk}, by=by, at=at
    )


@job_kind(ALTERATION_EFFECT, "What an alteration changes", permission="fleet.compute_circuitcover")
def compute_effects(run):
    """Compute cover before and after for each different circuit of the planned machines; stored in one transaction.

    The cover tables are stored as they are computed, so that a run that ends early loses little.
    """
    plan = AlterationPlan.objects.visible_to(run.by).filter(pk=run.params["plan"]).first()
    if plan is None:
        raise JobRefused("This alteration is not there any more, or has no machine at a site that you may see.")
    rows = dict(plan.machines.planned().order_by("machine").values_list("machine", "pk"))
    effects, chosen = Effects(plan, run.started_at), {}
    keys = list(rows)
    for first in range(0, len(keys), CHUNK):
        for machine, found in _loaded(keys[first : first + CHUNK], run.started_at):
            done = len(chosen)
            words = f"Circuit of machine {machine}"
            run.progress(done, len(keys), words)
            chosen[machine.pk] = effects.of(machine, found, _teller(run, done, len(keys), words))
    with transaction.atomic():
        _store(plan, effects.made.values(), {rows[pk]: effect for pk, effect in chosen.items()})
        run.finish(Result(_words(len(keys), effects.made.values()), link=plan.get_absolute_url()))


def _teller(run, done, total, words):
    return lambda number, of, what: run.progress(done, total, f"{words}: {number} of {of} {what}")


def _loaded(keys, moment):
    machines = list(Machine.objects.with_place().filter(pk__in=keys).order_by("pk"))
    circuits = circuits_as_measured(machines, timezone.localdate(moment))
    return [(machine, circuits[machine.pk]) for machine in machines]


def _store(plan, effects, chosen):
    """Replace the effects of the machines that are still planned; those of settled machines stay as they were."""
    AlterationPlan.objects.select_for_update(no_key=True).get(pk=plan.pk)
    plan.machines.planned().update(effect=None)
    plan.effects.filter(machines=None).delete()
    stored = {(each.before, each.after): each for each in plan.effects.all() if each.before}
    for effect in effects:
        held = stored.get((effect.before, effect.after))
        if held:
            effect.pk = held.pk
        effect.save()
    for effect in effects:
        keys = [pk for pk, one in chosen.items() if one is effect]
        for first in range(0, len(keys), 500):
            AlterationOfMachine.objects.planned().filter(pk__in=keys[first : first + 500]).update(effect=effect)
    AlterationEffect.objects.filter(plan=plan, machines=None).delete()


def _words(machines, effects):
    refused = sum(bool(effect.refusal) for effect in effects)
    words = f"{machines} machine{'' if machines == 1 else 's'} looked at, {len(effects)} different circuits"
    return f"{words}; {refused} of them do not allow the alteration." if refused else f"{words}."
