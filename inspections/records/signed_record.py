"""A signed record as pages show it, from its frozen content alone."""

from collections import Counter
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from functools import cached_property

from fleet.models.attribution import author_in_words
from fleet.place_format import NEUTRAL, PlaceFormat, current, rounded_quantity, with_decimal_sign
from inspections.at_bench.units_here import units_in_words
from inspections.bench.decision_words import gravity
from inspections.bench.serialise import evaluation_from_dict
from inspections.bench.serialise_recorded import oxygen_from_dict
from inspections.records.content import digest_of
from inspections.records.questions import questions_in_words
from inspections.records.repairs_in_words import repair_sentences, set_words
from inspections.records.shown_notes import (
    Cell,
    pictures_at,
    shown_corrections,
    shown_photographs,
    shown_remark,
)
from inspections.records.typed_later import typed_later
from inspections.result_display import FAILED_WORDS, shown_curves, shown_results, step_words

BAR_WIDTH = 460
CURVE_WIDTH = 620


@dataclass(frozen=True, slots=True)
class ShownReading:
    """One reading as it was read."""

    label: str
    text: str
    instrument: str
    entered_by: str
    corrections: list = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class ShownTable:
    """A table as it was read: the row numbers with a Cell for each column, None where nothing was read."""

    label: str
    columns: list[str]
    rows: list[tuple[int, list]]
    instruments: str


@dataclass(frozen=True, slots=True)
class ShownMark:
    """Who marked a step as not tested, and when."""

    by: str
    at: datetime


@dataclass(frozen=True)
class ShownStep:
    """One step of a record. Its evaluation is read from the content once."""

    content: dict
    amendments: list = field(default_factory=list)
    position: int = 0
    pictures: dict = field(default_factory=dict)

    @property
    def title(self):
        subject = self.content["subject_name"]
        title = f"{self.content['title']}: {subject}" if subject else self.content["title"]
        return f"{title}, {set_words(self.content)}" if "state" in self.content else title

    @property
    def repairs(self):
        """What was replaced at the step, and the work after which it was tested again, in sentences."""
        return repair_sentences(self.content)

    @property
    def is_superseded(self):
        """Whether these are readings as found: the step was repaired and tested again."""
        return self.content.get("superseded", False)

    @property
    def is_tested(self):
        return "evaluation" in self.content

    @cached_property
    def evaluation(self):
        return evaluation_from_dict(self.content["evaluation"])

    @property
    def results(self):
        return shown_results(self.evaluation, f"step{self.position}", BAR_WIDTH) if self.is_tested else []

    @property
    def curves(self):
        return shown_curves(self.evaluation, f"step{self.position}", CURVE_WIDTH) if self.is_tested else []

    @cached_property
    def decision(self):
        """The worst decision of the step as a word; “not tested” where it was not, empty where nothing is judged."""
        if not self.is_tested:
            return "not tested" if self.content["applies"] else ""
        return step_words(self.evaluation.results)

    @property
    def mark(self):
        """The mark “not tested” with its author; None without one, and in records from before authors were stored."""
        mark = self.content.get("not_tested")
        return ShownMark(mark["by"]["name"], datetime.fromisoformat(mark["at"])) if mark else None

    @property
    def remark(self):
        return shown_remark(self.content)

    @property
    def photographs(self):
        return shown_photographs(self.content, self.title, self.pictures)

    @property
    def corrections(self):
        """The corrections that are not shown beside a reading: of choices, and of what was taken back."""
        found = self._corrections()
        for reading in self.content.get("readings", []):
            if reading["field"] not in self.content["choices"]:
                found.at((reading["field"], reading["row"], reading["column"]))
        return found.elsewhere()

    @property
    def has_notes(self):
        return any(self.content.get(key) for key in ("remark", "photographs", "corrections"))

    def _corrections(self):
        return shown_corrections(self.content, self._label)

    @property
    def is_failed(self):
        return self.decision.startswith(FAILED_WORDS)

    @property
    def is_observation(self):
        """Whether the step is a check of one item of the procedure, which fits on one line."""
        return bool(self.content["item"]) and len(self.values) == 1 and len(self.evaluation.results) == 1

    @property
    def values(self):
        singles = [reading for reading in self.content.get("readings", []) if not reading["column"]]
        was = self._corrections()
        return [
            ShownReading(
                self._label(r["field"]),
                reading_text(r),
                r["instrument"],
                r["entered_by"]["name"],
                was.at((r["field"], r["row"], "")),
            )  # fmt: skip
            for r in singles
            if r["field"] not in self.content["choices"]
        ]

    @property
    def choices(self):
        return [(self._label(key), self._label(f"{key}={value}")) for key, value in self.content["choices"].items()]

    @property
    def tables(self):
        fields = {}
        for reading in self.content.get("readings", []):
            if reading["column"]:
                fields.setdefault(reading["field"], []).append(reading)
        return [self._table(key, readings) for key, readings in fields.items()]

    @property
    def programs(self):
        """What programs entered, in a sentence for each: “Entered by program Logger with the token of Ana: Flow.”"""
        return [f"Entered by {author}: {'; '.join(places)}." for author, places in self._places_by_program().items()]

    @property
    def questions(self):
        """What was asked about its readings and how that was answered, a sentence for each question."""
        return questions_in_words(self.content)

    @property
    def typed_later(self):
        """What waited on a device without a network, in sentences."""
        return typed_later(self.content.get("readings", []), self._place_of)

    def _place_of(self, reading):
        place = self._label(reading["field"])
        if not reading["column"]:
            return place
        column = self._label(f"{reading['field']}.{reading['column']}").lower()
        return f"{place}, row {reading['row'] + 1}, {column}"

    def _places_by_program(self):
        readings, found = self.content.get("readings", []), {}
        for reading in readings:
            author = _program(reading)
            if author:
                same = {_program(other) for other in readings if other["field"] == reading["field"]}
                place = self._label(reading["field"])
                if same != {author}:
                    column = self._label(f"{reading['field']}.{reading['column']}").lower()
                    place = f"{place}, row {reading['row'] + 1}, {column}"
                found.setdefault(author, {})[place] = None
        return found

    def _table(self, key, readings):
        read = {reading["column"] for reading in readings}
        columns = [column for column in self.content["columns"][key] if column in read]
        cells = {(r["row"], r["column"]): Cell(reading_text(r)) for r in readings}
        was = self._corrections()
        for (row, column), cell in cells.items():
            cell.corrections = was.at((key, row, column))
        numbers = sorted({r["row"] for r in readings})
        rows = [(number + 1, [cells.get((number, column)) for column in columns]) for number in numbers]
        instruments = ", ".join(sorted({r["instrument"] for r in readings if r["instrument"]}))
        return ShownTable(self._label(key), [self._label(f"{key}.{column}") for column in columns], rows, instruments)

    def _label(self, name):
        return self.content["labels"].get(name, name)


def noted_steps(inspection, content):
    """The steps with a remark, photographs or corrections in the content that a signature would freeze."""
    steps = [ShownStep(one, position=position) for position, one in enumerate(content["steps"], start=1)]
    noted = [step for step in steps if step.has_notes]
    pictures = pictures_at(inspection) if any(step.photographs for step in noted) else {}
    return [replace(step, pictures=pictures) for step in noted]


class ShownRecord:
    """The whole record with the amendments beside its steps."""

    def __init__(self, record, amendments=(), pictures=None):
        """pictures  digest -> Photograph, from `pictures_of`"""
        self.content = record.read()
        self.digest = record.digest
        self.is_intact = digest_of(record.content) == record.digest
        self.signed_at = datetime.fromisoformat(self.content["signed_at"])
        steps = [
            ShownStep(content, [a for a in amendments if a.step and _same(a.step, content)], position, pictures or {})
            for position, content in enumerate(self.content["steps"], start=1)
        ]
        self.steps = steps
        self.general_amendments = [a for a in amendments if a.step is None]
        self.tested = [step for step in steps if step.is_tested]
        self.observed = [step for step in self.tested if step.is_observation]
        self.measured = [step for step in self.tested if not step.is_observation]
        self.that_apply = [step for step in steps if step.content["applies"]]
        self.not_tested = [step for step in self.that_apply if not step.is_tested]
        self.absent = [step for step in steps if not step.content["applies"]]

    def place_format(self, site):
        """How the record is printed: as was signed; one signed before that was frozen, neutrally in the site's zone."""
        frozen = self.content.get("place_format")
        return PlaceFormat.from_dict(frozen) if frozen else replace(NEUTRAL, zone=site.time_zone)

    @property
    def result(self):
        """What the signature froze of the whole inspection; None in records from before it was."""
        return self.content.get("result")

    @property
    def signed_with(self):
        """How the signer confirmed the signature: “password” or “passkey”; empty in older records."""
        return self.content.get("signed_with", "")

    @property
    def rule_set(self):
        """The set of rules that the site had chosen, in words; empty in records from before sets."""
        return self.content.get("rule_set", {}).get("title", "")

    @property
    def instruments(self):
        """Instruments with `calibrated_day` and `due_day` as dates."""
        return [
            {
                **instrument,
                "calibrated_day": date.fromisoformat(instrument["calibrated_on"]),
                "due_day": date.fromisoformat(instrument["due_on"]),
            }
            for instrument in self.content["instruments"]
        ]

    @property
    def ambient_kpa_abs(self):
        return self.content["conditions"]["ambient_pa_abs"] / 1000

    @property
    def temperature_c(self):
        return self.content["conditions"]["temperature_c"]

    @property
    def oxygen_words(self):
        """The oxygen that supplied the site, in words; empty where it was simply oxygen, and in older records."""
        frozen = self.content["conditions"].get("oxygen")
        return oxygen_from_dict(frozen).words if frozen else ""

    @property
    def unit_words(self):
        """The units that were chosen for the inspection, in words; empty where none were."""
        return units_in_words(self.content.get("units", {}))

    @property
    def conditions_words(self):
        """Ambient pressure and room temperature in the units chosen, else in those of the place that is shown now."""
        place = current()
        if units := self.content.get("units"):
            place = replace(place, units=tuple(sorted({**dict(place.units), **units}.items())))
        return {
            "ambient": rounded_quantity(self.ambient_kpa_abs, "kPa", 1, place),
            "temperature": rounded_quantity(self.temperature_c, "°C", 1, place),
        }

    @property
    def counts(self):
        """How many steps came to each decision, the gravest first; those marked as not tested count as such.

        A step that was repaired and tested again counts as left.
        """
        counted = Counter(step.decision for step in self.tested if step.decision and not step.is_superseded)
        counted += Counter({"not tested": len(self.not_tested)})
        return sorted(counted.items(), key=lambda pair: (gravity(pair[0]), pair[0]))


def reading_text(reading):
    """The value as read with its unit; a pressure says when it is absolute."""
    if reading["unit"] in ("", "yes/no"):
        return reading["as_read"]
    zero = {"absolute": " absolute", "gauge": " gauge"}.get(reading["zero"], "")
    digits = "; ".join([reading["as_read"], *reading.get("read_again", "").split()])
    return f"{with_decimal_sign(digits, current().decimal)} {reading['unit']}{zero}"


def _program(reading):
    """Which program entered a reading, in words; empty for a person's own, and in records older than the naming."""
    program = reading.get("program")
    return author_in_words(reading["entered_by"]["name"], program["name"]) if program else ""


def _same(step, content):
    return (step.code, step.subject) == (content["code"], content["subject"])
