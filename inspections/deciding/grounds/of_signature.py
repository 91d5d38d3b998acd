"""What the page of a signature shows: everything that the signature freezes, step by step."""

from fleet.place_format import NEUTRAL, using
from inspections.at_bench.slots import find_slot
from inspections.bench.serialise_recorded import oxygen_from_dict
from inspections.deciding.grounds.comparing import EXACT
from inspections.models import Reading
from inspections.records.content import canonical_json, digest_of
from inspections.records.questions import questions_in_words
from inspections.records.repairs_in_words import replaced_words
from inspections.records.signed_record import reading_text
from inspections.result_display import shown_results


@using(NEUTRAL)
def signature_grounds(inspection, content, evaluated):
    """Describe `content`, the record that would be frozen, with what two people entered in one place beside it."""
    machine, procedure = content["machine"], content["procedure"]
    grounds = {
        "Machine": {
            "Machine": f"{machine['asset_number']}, {machine['model']}",
            "Serial": machine["serial"],
            "Built": str(machine["built_year"] or "not known"),
            "Location": f"{machine['area']}, {machine['site']}",
        },
        "Procedure": {
            "Version": f"{procedure['title']}, version {procedure['version']}",
            "Digest": procedure["digest"],
        },
        "Conditions": {
            "Ambient pressure": f"{content['conditions']['ambient_pa_abs'] / 1000:.7g} kPa absolute",
            "Temperature": f"{content['conditions']['temperature_c']:.7g} °C",
            **_oxygen(content["conditions"]),
        },
    }
    contested = _contested(evaluated)
    for step, told in zip(evaluated.steps, content["steps"], strict=True):
        where = str(step) if str(step) not in grounds else f"{step} ({step.code})"
        grounds[where] = _step_lines(step, told, evaluated, contested.get(step.pk, {}))
    return grounds | _instruments(content["instruments"])


def _oxygen(conditions):
    frozen = conditions.get("oxygen")
    return {"Oxygen supply": oxygen_from_dict(frozen).words} if frozen else {}


def _step_lines(step, told, evaluated, contested):
    lines = {"Step": _state(step, told), **_repairs(told)}
    if told["component"]:
        lines["Component"] = ", ".join(filter(None, told["component"].values()))
    lines |= _notes(told)
    if step not in evaluated.results:
        return lines
    _, step_result = evaluated.results[step]
    for reading in told["readings"]:
        lines[_place(reading, told["labels"])] = _reading(reading, told["labels"])
    lines |= contested | _questions(told)
    if step_result.error:
        lines["Cannot be computed"] = step_result.error
    for shown in shown_results(step_result.evaluation):
        lines |= _result(shown)
    return lines | {EXACT: digest_of(canonical_json(told["evaluation"]))[:16]}


def _notes(told):
    lines = {}
    if "remark" in told:
        lines["Remark"] = f"{told['remark']['text']}, by {told['remark']['by']['name']}"
    for number, photograph in enumerate(told.get("photographs", []), start=1):
        lines[f"Photograph {number}"] = ", ".join(filter(None, (photograph["caption"], photograph["digest"][:16])))
    return lines


def _state(step, told):
    asked = "essential" if step.is_essential else "not essential"
    if not step.applies:
        return f"does not apply: {step.absence}"
    if not step.not_tested_reason:
        return f"{asked}; tested"
    author = f", marked by {told['not_tested']['by']['name']}" if "not_tested" in told else ""
    return f"{asked}; not tested: {step.not_tested_reason}{author}"


def _repairs(told):
    """The components replaced at the step, and the work after which it was tested again as left."""
    lines = {f"Replaced: {one['label']}": replaced_words(one) for one in told.get("replaced", [])}
    if "work" in told:
        lines["Tested again after"] = f"{told['work']['what']} ({told['work']['by']['name']})"
    return lines


def _place(reading, labels):
    field = labels.get(reading["field"], reading["field"])
    if not reading["column"]:
        return f"Reading: {field}"
    name = f"{reading['field']}.{reading['column']}"
    return f"Reading: {field}, row {reading['row'] + 1}, {labels.get(name, name).lower()}"


def _reading(reading, labels):
    text = labels.get(f"{reading['field']}={reading['as_read']}") or reading_text(reading)
    instrument = f", {reading['instrument']}" if reading["instrument"] else ""
    return f"{text}{instrument}, by {reading['entered_by']['name']}"


def _result(shown):
    result, label = shown.result, shown.result.label
    limit = result.limit
    lines = {f"Result: {label}": shown.full_value, f"Decision: {label}": shown.decision or "none"}
    if limit:
        parts = (shown.limit, limit.title, limit.source, limit.edition, limit.basis, limit.note)
        parts = (*parts, shown.confirmation)
        lines[f"Limit: {label}"] = "; ".join(part for part in parts if part and part != "-")
    return lines


def _questions(told):
    """What was asked about readings of a step, and the answers: they are frozen with it."""
    sentences = questions_in_words(told)
    return {f"Question {number}": sentence for number, sentence in enumerate(sentences, start=1)}


def _contested(evaluated):
    """By key of the step: what is saved beside the current reading, until somebody chooses."""
    steps, found = {step.pk: step for step in evaluated.results}, {}
    for reading in Reading.objects.contested().filter(step__in=steps).select_related("entered_by").order_by("pk"):
        label = find_slot(steps[reading.step_id], *reading.slot).label.lower()
        lines = found.setdefault(reading.step_id, {})
        lines[f"Second reading {len(lines) + 1}: {label}"] = f"{reading}, by {reading.entered_by}"
    return found


def _instruments(instruments):
    grounds = {}
    for one in instruments:
        lines = grounds.setdefault(
            f"Instrument {one['code']}", {"Name": f"{one['name']} {one['serial']}".strip(), "Calibration": ""}
        )
        calibration = f"{one['certificate']}, {one['calibrated_on']}, due {one['due_on']}"
        told = calibration if one["calibrated_on"] else "none"
        lines["Calibration"] = "; ".join(filter(None, (lines["Calibration"], told)))
        for scale in one["scales"]:
            lines[f"Scale: {scale['dimension']}"] = _scale(scale)
    return grounds


def _scale(scale):
    accuracy = f"{scale['of_reading_percent']:g} % of reading, {scale['of_span_percent']:g} % of span"
    return (
        f"{scale['low']:g} to {scale['high']:g} {scale['unit']}, resolution {scale['resolution']:g}, "
        f"{accuracy}, {scale['absolute']:g} {scale['unit']}, k = {scale['coverage_factor']:g}"
    )
