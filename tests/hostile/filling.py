"""Fill every text column of every model with a payload, as a row of older days may hold it: past all checks."""

import json

from django.apps import apps
from django.db import IntegrityError, connection, models, transaction

from inspections.bench import Decision
from tests.hostile.payloads import WORD

APPS = ("fleet", "inspections")
# Columns that hold no text from a person, each with the reason; every other column is filled.
OWN_WORDS = {
    "fleet.ApiToken.digest": "computed from the secret",
    "fleet.ApiToken.start": "the first letters of a random secret",
    "fleet.ChangeEntry.record": "name of a kind of record, set by the program",
    "fleet.ChangeEntry.row": "name of a model, set by the program",
    "fleet.AlterationEffect.after": "computed",
    "fleet.AlterationEffect.before": "computed",
    "fleet.CircuitCover.digest": "computed",
    "fleet.CircuitCover.rules": "computed",
    "fleet.CircuitReading.rules": "computed",
    "fleet.ColumnMapping.digest": "computed",
    "fleet.CurrentState.asset_number": "a copy of that of the machine",
    "fleet.CurrentState.searched": "a copy of texts of the machine",
    "fleet.CurrentState.status": "a copy of that of the machine",
    "fleet.CurrentStateRules.rules": "computed",
    "fleet.CoverHazard.worst_likelihood": "one of three words of the program",
    "fleet.InstrumentScale.unit": "one of the units of its dimension",
    "fleet.Job.key": "made by the program, so that the same work is asked for once",
    "fleet.Job.link": "an address of our own, made by reverse()",
    "fleet.JournalEntry.layout": "computed",
    "fleet.JournalLink.content": "digests, names of actions and layouts; its digest binds it",
    "fleet.Machine.staged": "made by the program; a machine that bears one is hidden",
    "fleet.Passkey.credential": "base64url that a device made; a registration stores nothing else",
    "fleet.Passkey.public_key": "base64url that a device made; a registration stores nothing else",
    "fleet.PasskeyChallenge.act": "computed",
    "fleet.PasskeyChallenge.challenge": "random",
    "fleet.PasskeyChallenge.session": "computed",
    "fleet.Person.password": "a hash",
    "fleet.Site.date_format": "one of the choices, checked by the form",
    "fleet.Site.decimal_sign": "one of two signs, checked by the form",
    "fleet.Site.holiday_country": "a code of the list, checked by the form and the action",
    "fleet.Site.paper_size": "one of the choices, checked by the form",
    "fleet.Site.time_zone": "a name of the IANA list, checked by the form and the action",
    "inspections.Attachment.digest": "computed",
    "inspections.Attachment.received_digest": "computed",
    "inspections.CalendarFeed.digest": "computed",
    "inspections.ChainEntry.content": "bound by digests: any altered letter is reported; its words stand in the record",
    "inspections.ChainEntry.digest": "computed",
    "inspections.ChainEntry.previous": "computed",
    "inspections.ChainHead.digest": "computed",
    "inspections.CriterionJudgement.criterion": "one of the codes of the criteria",
    "inspections.DeviceAnswer.address": "an address of our own, asked by a device",
    "inspections.DeviceAnswer.headers": "made by the program: codes, keys and addresses of our own",
    "inspections.DeviceBook.digest": "computed",
    "inspections.FaultPhotograph.digest": "computed",
    "inspections.FleetChoice.digest": "computed",
    "inspections.FaultReport.key": "computed",
    "inspections.Finding.code": "one of the codes of findings",
    "inspections.Finding.contradiction": "made by the program from codes",
    "inspections.KeptCount.key": "computed",
    "inspections.KeptCount.tally": "one of the tallies of the program",
    "inspections.KeptCount.what": "a stage or the key of a person",
    "inspections.KeptDueDate.answer": "one of the answers of the program",
    "inspections.KeptDueDate.excuse": "one of the kinds of attempts",
    "inspections.KeptReview.asset_number": "a copy of that of the machine",
    "inspections.KeptReview.met_absolute": "codes of criteria",
    "inspections.KeptReview.met_relative": "codes of criteria",
    "inspections.KeptReview.open_questions": "codes of criteria",
    "inspections.KeptRules.kind": "one of the kinds of the program",
    "inspections.KeptRules.rules": "computed",
    "inspections.LimitOverride.unit": "one of the units of the result",
    "inspections.MachineLabel.code": "random letters and digits",
    "inspections.Result.decision": "one of the words of a decision",
    "inspections.Result.limit_rule": "code of a rule",
    "inspections.Result.unit": "one of the units of the result",
    "inspections.Photograph.digest": "computed",
    "inspections.Photograph.preview_digest": "computed",
    "inspections.ProcedureVersion.digest": "computed",
    "inspections.ProposedDay.binding": "one of the rules of the planner",
    "inspections.Proposal.asked": "keys, codes and numbers that the action takes again",
    "inspections.Reading.as_read": "a number, yes or no: `enter_reading` takes nothing else",
    "inspections.Reading.unit": "one of the units of its place",
    "inspections.ReadingFileMapping.decimal": "one of two signs, checked by the form",
    "inspections.ReadingFileMapping.digest": "computed",
    "inspections.SignedRecord.digest": "computed",
    "inspections.SeriousIncident.content": "bound by its digest; the file is sent as it is, never shown",
    "inspections.SeriousIncident.digest": "computed",
    "inspections.UserCheck.key": "computed",
}
# Columns of JSON whose texts are all codes, so that nothing of them is filled.
WITHOUT_WORDS = {
    "fleet.AlterationEffect.fitted": "codes of kinds",
    "fleet.AlterationEffect.hazards": "codes and counts",
    "fleet.AlterationEffect.removed": "codes of kinds",
    "fleet.Calibration.points": "numbers with their unit",
    "fleet.CircuitCover.closing": "codes and counts",
    "fleet.CircuitCover.shown": "codes and counts",
    "fleet.Component.further": "numbers with their units",
    "fleet.Component.options": "codes of choices",
    "fleet.Component.rated": "numbers with their units",
    "fleet.Job.params": "keys and codes",
    "fleet.MachineModel.gases": "codes of gases",
    "fleet.MachineModel.lacks": "codes of what a type lacks",
    "fleet.Site.preferred_units": "codes of dimensions and units",
    "inspections.ExposureHistory.result": "codes, days and numbers",
    "inspections.FleetChoice.inputs": "asset numbers, codes and numbers; no page shows it",
    "inspections.ReviewWeights.burden": "codes and numbers",
    "inspections.ReviewWeights.hazards": "codes and numbers",
    "inspections.BenchUnits.units": "codes of dimensions and units",
    "inspections.Inspection.units": "codes of dimensions and units",
    "inspections.ReadingQuestion.alternatives": "digits with their units",
    "inspections.TrendForecast.terms": "numbers of a trend",
}
CODES = models.SlugField  # letters, digits and hyphens by their validator; they are parts of addresses
NAMES = (
    "asset_number",
    "area",
    "by",
    "label",
    "manufacturer",
    "model",
    "name",
    "sample",
    "serial",
    "site",
    "source",
    "title",
)


def text_columns():
    """Yield (model, field) of every column that holds a text or JSON, but BinaryField, of which files are made."""
    for app in APPS:
        for model in apps.get_app_config(app).get_models():
            for field in model._meta.concrete_fields:
                if isinstance(field, models.CharField | models.TextField | models.JSONField):
                    yield model, field


def filled_columns():
    for model, field in text_columns():
        if not field.choices and not isinstance(field, CODES) and _name(model, field) not in OWN_WORDS:
            yield model, field


def fill(payload) -> dict[str, int]:
    """Fill every row; return how many rows of each column hold the payload now."""
    return {_name(model, field): _fill_column(model, field, payload) for model, field in filled_columns()}


def _fill_column(model, field, payload):
    written = 0
    for row in model.objects.all():
        value = _hostile(getattr(row, field.attname), field, row, payload)
        if value is not None and _write(model, row, field, value):
            written += WORD in (value if isinstance(value, str) else json.dumps(value))
    return written


def _write(model, row, field, value):
    """Return whether the database accepts it: a constraint may require an empty column."""
    try:
        with transaction.atomic():
            return model.objects.filter(pk=row.pk).update(**{field.name: value})
    except IntegrityError:
        return 0


def _hostile(value, field, row, payload):
    if field.name == "circuit":  # a circuit file: only its texts are free
        return value.replace("Two-gas machine", "hostileword &<b hx-get='/hostile/'>")
    if field.name == "content" and isinstance(field, models.TextField):
        return _json_text(value, payload)
    if isinstance(field, models.JSONField):
        return None if value is None else hostile_leaves(value, payload.text)
    end = f" {row.pk}" if field.unique or field.name in ("name", "asset_number") else ""
    return payload.fitting(field.max_length if payload.keeps_to_length or _holds_to_length() else None, end)


def _json_text(text, payload):
    content = hostile_leaves(json.loads(text), payload.text)
    return json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def hostile_leaves(value, text, key=""):
    """Return JSON with the payload in place of free text: names, and texts with a blank, which are no codes."""
    if isinstance(value, dict):
        return {_hostile_key(name, text): hostile_leaves(part, text, name) for name, part in value.items()}
    if isinstance(value, list):
        return [hostile_leaves(part, text, key) for part in value]
    if isinstance(value, str) and value not in coded_words() and (key in NAMES or " " in value):
        return text
    return value


def _hostile_key(name, text):
    """Headers of files are keys; each ends with its own name, so that they stay different."""
    return f"{text} {name}" if " " in name else name


def coded_words():
    words = {str(decision) for decision in Decision} | {"not tested", "common practice, no source", "from memory"}
    for _, field in text_columns():
        words |= {str(value) for value, _ in field.flatchoices}
    return words


def _holds_to_length():
    return connection.vendor == "postgresql"


def _name(model, field):
    return f"{model._meta.label}.{field.name}"
