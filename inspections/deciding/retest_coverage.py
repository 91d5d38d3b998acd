"""What a retest covered of a machine, and what it did not: for whoever releases the machine on it."""

from dataclasses import dataclass, field

from inspections.bench.decision_words import is_settled, worst_words
from inspections.models import Inspection, InspectionStep, Result

LOOKED_AT = 60  # the newest signed inspections of the machine
NO_RESULT = "nothing was judged"


@dataclass(frozen=True, slots=True)
class CoverageLine:
    """One step with its decision in words; `inspection` is the one that tested it or left it untested."""

    step: InspectionStep
    words: str
    inspection: Inspection


@dataclass(frozen=True, slots=True)
class Coverage:
    """covered: what the retest decided. untested: what it or the last inspection before left untested, and nothing
    settled since. not_repeated: what other inspections tested last and the retest did not.
    """

    covered: list = field(default_factory=list)
    untested: list = field(default_factory=list)
    not_repeated: list = field(default_factory=list)


def coverages(machine, retests):
    """Map the key of each of `retests` to its Coverage; three queries for all of them.

    Beside each retest stands the newest other signed inspection of every procedure.
    """
    signed = Inspection.objects.signed().filter(machine=machine).order_by("-signed_at")
    newest = list(signed.defer("note", "void_reason")[:LOOKED_AT])
    beside = {retest.pk: _newest_of_each_procedure(newest, retest) for retest in retests}
    wanted = {one.pk: one for one in retests} | {one.pk: one for others in beside.values() for one in others}
    lines = _lines(wanted)
    return {retest.pk: _coverage(lines.get(retest.pk, []), [lines.get(o.pk, []) for o in beside[retest.pk]])
            for retest in retests}  # fmt: skip


def _newest_of_each_procedure(newest, retest):
    found = {}
    for one in newest:
        if one.pk != retest.pk:
            found.setdefault(one.procedure_id, one)
    return list(found.values())  # the newest first


def _lines(inspections):
    """Map the key of each inspection to (line, whether it is settled) of every step that applies, in their order."""
    results = {}
    decisions = Result.objects.filter(step__inspection__in=inspections, step__applies=True)
    for step, *decision in decisions.values_list("step", "decision", "limit_confirmed"):
        results.setdefault(step, []).append(decision)
    found = {}
    for step in (
        InspectionStep.objects.that_apply().last_sets().filter(inspection__in=inspections).order_by("position", "pk")
    ):
        own = results.get(step.pk, [])
        settled = not step.not_tested_reason and is_settled(decision for decision, _ in own)
        words = step.not_tested_reason or worst_words(own) or NO_RESULT
        line = CoverageLine(step, words, inspections[step.inspection_id])
        found.setdefault(step.inspection_id, []).append((line, settled))
    return found


def _coverage(own, others):
    found, known = Coverage(), set()
    for line, settled in own:
        known.add(line.step.what)
        (found.covered if settled else found.untested).append(line)
    for lines in others:
        for line, settled in lines:
            if line.step.what not in known:
                known.add(line.step.what)
                (found.not_repeated if settled else found.untested).append(line)
    return found
