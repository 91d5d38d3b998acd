"""The content of a signed record: all that the signature vouches for, as plain data with a digest."""

from django.db.models import Prefetch, prefetch_related_objects

from fleet.canonical import canonical_json, digest_of
from fleet.catalogue.oxygen_supply import SuppliedOxygen
from fleet.catalogue.plausibility import SCALE_NUMBERS
from inspections.at_bench.evaluation import calibrations_in_force, chosen_options
from inspections.at_bench.instrument_corrections import corrections_content, corrections_in_force
from inspections.at_bench.step_content import left_out_words, test_of
from inspections.bench.decision_words import inspection_words, limit_confirmed, result_words
from inspections.bench.serialise import evaluation_to_dict
from inspections.bench.serialise_recorded import oxygen_to_dict
from inspections.models import NotTestedMark
from inspections.records.notes_content import Notes
from inspections.records.notes_content import person_content as _person_content
from inspections.records.questions import questions_by_step
from inspections.records.repair_content import with_repairs

__all__ = ["canonical_json", "digest_of", "record_content"]


def record_content(inspection, evaluated, *, by, at, signed_with=""):
    """Return what a signature by `by` at the moment `at` freezes; `evaluated` are the EvaluatedSteps it rests on.

    The record is self-contained: it names readings and choices in the words of that day, whatever a test is called
    later. `signed_with` says how the person confirmed the signature; absent in older records.
    """
    machine = inspection.machine
    notes = Notes(evaluated.steps)
    marks = NotTestedMark.objects.in_force().with_people()
    prefetch_related_objects(evaluated.steps, Prefetch("not_tested_marks", marks, to_attr="marks_in_force"))
    return {
        "inspection": inspection.pk,
        "procedure": {
            "code": inspection.procedure.code,
            "title": inspection.procedure.title,
            "version": inspection.version.number,
            "digest": inspection.version.digest,
        },
        "machine": {
            "asset_number": machine.asset_number,
            "serial": machine.serial,
            "model": str(machine.model),
            "built_year": machine.built_year,
            "site": machine.site.name,
            "area": machine.area.name,
        },
        "conditions": _conditions_content(inspection),
        "signed_by": _person_content(by),
        "signed_at": at.isoformat(),
        **({"signed_with": signed_with} if signed_with else {}),
        "place_format": machine.site.place_format.as_dict(),
        "rule_set": {"code": machine.site.rule_set, "title": machine.site.rule_set_words},
        "result": _result_content(evaluated),
        "steps": with_repairs(_steps_content(inspection, evaluated, notes), evaluated, inspection, _person_content),
        "instruments": instruments_content(inspection, evaluated.results),
        **({"minutes": inspection.minutes} if inspection.minutes else {}),
        **({"units": inspection.units} if inspection.units else {}),
    }


def _conditions_content(inspection):
    """The surroundings; the oxygen of the site is named where it is not simply oxygen."""
    found = {"ambient_pa_abs": inspection.ambient_pa_abs, "temperature_c": inspection.temperature_c}
    oxygen = inspection.machine.site.oxygen
    return found if oxygen == SuppliedOxygen() else {**found, "oxygen": oxygen_to_dict(oxygen)}


def _result_content(evaluated):
    """The result of the whole inspection, and the essential steps that prove nothing."""
    untested = evaluated.essential_untested()
    results = [
        result
        for step, (_, found) in evaluated.results.items()
        for result in found.evaluation.results
        if result.key in evaluated.that_decide(step)
    ]
    judged = [(str(result.decision or ""), limit_confirmed(result)) for result in results]
    return {
        "words": inspection_words(judged, is_complete=not untested),
        "is_complete": not untested,
        "essential_not_tested": [str(step) for step in untested],
    }


def _steps_content(inspection, evaluated, notes):
    asked = questions_by_step(inspection)
    contents = [_step_content(step, evaluated.results, notes) for step in evaluated.steps]
    for step, content in zip(evaluated.steps, contents, strict=True):
        if step in evaluated.results and step.pk in asked:
            content["questions"] = asked[step.pk]
    return contents


def _step_content(step, results, notes):
    content = {
        "code": step.code,
        "title": step.title,
        "test": step.test_code,
        "subject": step.subject,
        "subject_name": step.subject_name,
        "component": step.component
        and {"label": step.component.label, "serial": step.component.serial, "lot": step.component.lot},
        "is_essential": step.is_essential,
        "instruction": step.content.get("instruction", ""),
        "item": step.content.get("item", ""),
        "source": step.content.get("source", ""),
        "applies": step.applies,
        "absence": step.absence,
        "not_tested_reason": step.not_tested_reason,
    }
    for mark in step.marks_in_force:
        if mark.by:  # a mark from before authors were stored has none
            content["not_tested"] = {"by": _person_content(mark.by), "at": mark.at.isoformat()}
    content |= notes.content_of(step, is_tested=step in results)
    if step in results:
        readings, result = results[step]
        content["readings"] = [_reading_content(reading) for reading in readings]
        content["choices"] = chosen_options(step, readings)
        content["labels"] = labels_of(test_of(step))
        content["columns"] = {t.key: [spec.key for spec in t.columns] for t in test_of(step).tables}
        content["evaluation"] = evaluation_to_dict(result.evaluation)
        if left_out := left_out_words(step):
            content["left_out"] = left_out
        content["decisions"] = {one.key: result_words(one) for one in result.evaluation.results}
    return content


def labels_of(test):
    """What the test called each reading, table, column ("table.column") and option ("choice=option") on the day."""
    labels = {spec.key: spec.label for spec in (*test.readings, *test.tables, *test.choices)}
    labels |= {f"{table.key}.{spec.key}": spec.label for table in test.tables for spec in table.columns}
    return labels | {f"{spec.key}={value}": label for spec in test.choices for value, label in spec.options}


def _reading_content(reading):
    content = {
        "field": reading.field,
        "row": reading.row,
        "column": reading.column,
        "as_read": reading.as_read,
        "unit": reading.unit,
        "zero": reading.zero,
        "instrument": reading.instrument.code if reading.instrument else "",
        "entered_by": _person_content(reading.entered_by),
        "entered_at": reading.entered_at.isoformat(),
    }
    if reading.read_again:
        content["read_again"] = reading.read_again
    if reading.typed_at:
        content["typed_at"] = reading.typed_at.isoformat()
    return content | ({"program": _program_content(reading.token)} if reading.token else {})


def _program_content(token):
    """The program that entered a reading with a token of the person named beside it; absent from all other readings."""
    return {"name": token.name, "token": token.pk}


def instruments_content(inspection, results):
    """Each instrument with the calibration in force when its readings were taken; two entries if it changed between.

    One without a calibration, which nobody can sign for, has empty dates.
    """
    readings = [reading for readings, _ in results.values() for reading in readings]
    in_force = calibrations_in_force(readings, inspection.machine.site)
    pairs = {(one.pk, found and found.pk): (one, found) for (one, _), found in in_force.items()}
    prefetch_related_objects([instrument for instrument, _ in pairs.values()], "scales")
    applied = _applied(readings, [instrument for instrument, _ in pairs.values()], inspection.machine.site)
    return [
        {
            "code": instrument.code,
            "name": instrument.name,
            "serial": instrument.serial,
            "certificate": calibration.certificate if calibration else "",
            "calibrated_on": calibration.calibrated_on.isoformat() if calibration else "",
            "due_on": calibration.due_on.isoformat() if calibration else "",
            "scales": [_scale_content(scale) for scale in instrument.scales.all()],
            **_corrections(applied.get((instrument.pk, calibration and calibration.certificate))),
        }
        for instrument, calibration in pairs.values()
    ]


def _applied(readings, instruments, site):
    """Map (instrument, certificate) to what corrected its readings; absent where nothing did."""
    corrections = corrections_in_force(instruments, site)
    found = [(reading, corrections(reading)) for reading in readings]
    return {(reading.instrument_id, one.certificate): one for reading, one in found if one}


def _corrections(applied):
    return {"corrections": corrections_content(applied)} if applied else {}


def _scale_content(scale):
    return {field: getattr(scale, field) for field in ("dimension", "unit", *SCALE_NUMBERS)}
