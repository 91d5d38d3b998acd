"""Sign, countersign and amend. A signature freezes what it saw; afterwards only amendments are added."""

from dataclasses import dataclass

from django.db import transaction

from inspections.actions.carrying_out import carry_out_replacements, reasons_against_replacing
from inspections.actions.chain import chain_amendment, chain_countersignature, chain_signature
from inspections.actions.contained import settle_contained
from inspections.actions.findings import close_settled_findings, open_findings_of, open_findings_of_untested
from inspections.actions.planning import plan_again, plan_next_inspection
from inspections.actions.stages import change_stage
from inspections.at_bench.evaluated_steps import EvaluatedSteps, evaluate_steps
from inspections.at_bench.evaluation import instruments_out_of_calibration
from inspections.at_bench.repairs import repairs_in, to_be_tested_again
from inspections.at_bench.slots import find_slot
from inspections.bench.decision_words import limit_confirmed
from inspections.bench.serialise import result_to_dict
from inspections.concurrent_edits import NOT_TOLD
from inspections.deciding.grounds import refuse_if_changed
from inspections.deciding.grounds.of_record import record_grounds
from inspections.deciding.grounds.of_signature import signature_grounds
from inspections.deciding.second_person import refuse_alone, why_second_for_amendment
from inspections.errors import AlreadySigned, NotReadyToSign, RecordFrozen, StageRefused
from inspections.models import Amendment, Completion, Inspection, Reading, Result, SignedRecord, Stage
from inspections.records.content import canonical_json, digest_of, record_content
from inspections.schedule.competence import reasons_against


@dataclass(frozen=True, slots=True)
class SignatureDraft:
    """What a signature would freeze now, what prevents it, and how the page describes it. Read once."""

    evaluated: EvaluatedSteps
    content: dict
    grounds: dict
    reasons: list[str]


def draft_signature(inspection, *, by, at, signed_with=""):
    """Read everything that a signature rests on. Page and signature use this one reading of it."""
    evaluated = evaluate_steps(inspection)
    content = record_content(inspection, evaluated, by=by, at=at, signed_with=signed_with)
    grounds = signature_grounds(inspection, content, evaluated)
    incompetent = reasons_against([inspection], by, inspection.machine.site.date_of(at))
    return SignatureDraft(evaluated, content, grounds, _reasons(evaluated, inspection) + incompetent)


def reasons_against_signing(inspection):
    """Return what still prevents a signature, one sentence each; empty if nothing does."""
    return _reasons(evaluate_steps(inspection), inspection)


@transaction.atomic
def sign_inspection(inspection, *, by, at, shown=NOT_TOLD, minutes=None, signed_with=""):
    """Sign: freeze readings, results, limits, instruments and procedure version together, and open findings.

    shown        grounds that the page showed. What is compared with them is what is frozen, so nothing comes between.
    minutes      how long the work took, as the person who signs states it; None if nobody says
    signed_with  how the person confirmed it, "password" or "passkey"; empty where nobody was asked

    Raise AlreadySigned if someone did so first, GroundsChanged with what changed since the page was shown, and
    NotReadyToSign with every reason. A refused signature leaves nothing.
    """
    locked = Inspection.objects.select_for_update(no_key=True).get(pk=inspection.pk)
    if not locked.is_in_progress:
        raise AlreadySigned(f"{inspection} is {locked.stage_word}, its readings are locked. Plan a new one.")
    inspection.refresh_from_db()
    inspection.minutes = minutes
    draft = draft_signature(inspection, by=by, at=at, signed_with=signed_with)
    refuse_if_changed(shown, draft.grounds)
    if draft.reasons:
        raise NotReadyToSign(draft.reasons)
    carry_out_replacements(inspection, draft.evaluated, by=by, at=at)
    step_results = draft.evaluated.results
    results = Result.objects.bulk_create(
        result_row(step, result)
        for step, (_, step_result) in step_results.items()
        for result in step_result.evaluation.results
    )
    change_stage(
        inspection, Stage.SIGNED, by=by, at=at, error=AlreadySigned, signed_by=by, signed_at=at, minutes=minutes
    )
    Completion.of(inspection).save(force_insert=True)
    content = canonical_json(draft.content)
    record = SignedRecord.objects.create(
        inspection=inspection, content=content, digest=digest_of(content), signed_at=at
    )
    open_findings_of(inspection, results, by=by, at=at)
    open_findings_of_untested(inspection, by=by, at=at)
    close_settled_findings(inspection, results, by=by, at=at)
    _plan_what_follows(inspection, by=by, at=at)
    chain_signature(inspection, record, at=at)
    return inspection


def _plan_what_follows(inspection, *, by, at):
    """Plan the next one after a complete inspection; an incomplete one leaves its due date to be met again."""
    if inspection.is_incomplete:
        plan_again(inspection, by=by, at=at)
    else:
        done_on = inspection.machine.site.date_of(at)
        plan_next_inspection(inspection.machine, inspection.procedure, last_done_on=done_on, by=by, at=at)
        if inspection.version.content.get("contains"):
            settle_contained(inspection, by=by, at=at)


@transaction.atomic
def countersign_inspection(inspection, *, by, at, shown=NOT_TOLD, signed_with=""):
    """Confirm a signed inspection. Raise StageRefused for the signer, and for one that does not wait for it.

    Raise GroundsChanged if the record is not what the page showed, or was amended since. `signed_with` as for a
    signature.
    """
    if inspection.signed_by_id == by.pk:
        raise StageRefused(f"{inspection} was signed by you. Another person must countersign it.")
    hold_inspection(inspection)
    if inspection.is_signed:
        refuse_if_changed(shown, record_grounds(inspection))
    change_stage(inspection, Stage.COUNTERSIGNED, by=by, at=at, countersigned_by=by, countersigned_at=at)
    chain_countersignature(inspection, at=at, signed_with=signed_with)


@transaction.atomic
def amend_inspection(inspection, *, correction, reason, by, at, step=None, proposed_by=None):
    """Add a correction with its reason beside a signed record, which stays as it is.

    Raise SecondPersonNeeded where the site demands one and nobody else proposed it.
    """
    if not inspection.is_signed:
        raise RecordFrozen(
            f"{inspection} is {inspection.stage_word}. Only a signed inspection can be amended; correct the reading "
            "itself."
        )
    if not correction.strip() or not reason.strip():
        raise RecordFrozen("An amendment needs both a correction and a reason.")
    hold_inspection(inspection)
    refuse_alone(why_second_for_amendment(inspection), by=by, proposed_by=proposed_by)
    amendment = Amendment.objects.create(
        inspection=inspection, step=step, correction=correction.strip(), reason=reason.strip(), by=by, at=at
    )
    chain_amendment(amendment, at=at)
    return amendment


def hold_inspection(inspection):
    """Lock the row until the transaction ends, and reload it and its site, so that two people who add to one record do
    so one after the other.
    """
    Inspection.objects.select_for_update(no_key=True).get(pk=inspection.pk)
    inspection.refresh_from_db()


def _reasons(evaluated, inspection):
    step_results, reasons = evaluated.results, []
    for step, (readings, step_result) in step_results.items():
        reasons += _without_instrument(step, readings)
        if step_result.error:
            reasons.append(f"{step}: {step_result.error}")
        elif step_result.evaluation.missing:
            needed = "an answer" if "item" in step.content else "; ".join(step_result.evaluation.missing)
            reasons.append(f"{step}: still needed: {needed}.")
    if not step_results:
        reasons.append("No step has been tested, so there is nothing to sign.")
    reasons += _undecided(step_results)
    reasons += _tested_too_early(evaluated, inspection)
    reasons += reasons_against_replacing(inspection)
    readings = [reading for readings, _ in step_results.values() for reading in readings]
    return reasons + instruments_out_of_calibration(readings, inspection.machine.site)


def _undecided(step_results):
    """Where two people entered a reading in one place and nobody chose between them, in one sentence a step."""
    steps = {step.pk: step for step in step_results}
    places = {}
    for contested in Reading.objects.contested().filter(step__in=steps).order_by("pk"):
        label = find_slot(steps[contested.step_id], *contested.slot).label.lower()
        places.setdefault(contested.step_id, {})[label] = None
    return [f"{steps[pk]}: choose between the two readings of {', '.join(found)}." for pk, found in places.items()]


def _tested_too_early(evaluated, inspection):
    """Say of each step whose readings were taken before work that calls for it again what to do about it."""
    again = to_be_tested_again(evaluated, repairs_in(inspection, evaluated.steps))
    return [
        f"{step}: tested before this work: {'; '.join(words)}. Test it again as left, or begin that set and mark it as "
        "not tested with the reason."
        for step, words in again.items()
    ]


def _without_instrument(step, readings):
    """A reading without an instrument has an assumed accuracy: say which places of a step lack one, in one sentence."""
    slots = [find_slot(step, *reading.slot) for reading in readings if reading.instrument is None]
    labels = dict.fromkeys(slot.label.lower() for slot in slots if slot.needs_instrument)
    return [f"{step}: name the instrument that showed {', '.join(labels)}."] if labels else []


def result_row(step, result):
    """The database row of a bench result, not saved."""
    limit = result.limit
    return Result(
        step=step,
        key=result.key,
        label=result.label,
        value=result.value_si,
        std_uncertainty=result.std_uncertainty_si,
        expanded_uncertainty=result.expanded_uncertainty_si,
        coverage_factor=result.coverage_factor,
        unit=result.unit,
        limit_lower=limit.lower_si if limit else None,
        limit_upper=limit.upper_si if limit else None,
        limit_rule=limit.rule if limit else "",
        limit_source=limit.source if limit else "",
        limit_edition=limit.edition if limit else "",
        limit_confirmed=limit_confirmed(result),
        decision=str(result.decision or ""),
        margin=result.margin_si,
        probability=result.probability,
        convention=result.convention,
        remark=result.remark,
        content=result_to_dict(result),
    )
