"""A step as the bench page lays it out: a place for each declared reading, with its current and its last reading."""

from functools import cached_property

from fleet.catalogue.dimensions import find_unit
from fleet.models.querysets.prepared_queries import prepared
from inspections.at_bench.corrections import corrections_at
from inspections.at_bench.evaluation import chosen_options
from inspections.at_bench.laid_out import Column, Contest, Place, Proposal, Row, Settings, Table
from inspections.at_bench.open_questions import open_questions_at
from inspections.at_bench.proposed_instrument import expected_values, proposed_instrument
from inspections.at_bench.slots import (
    MAX_ROWS,
    choice_slot,
    find_slot,
    fixed_choices,
    reading_slot,
)
from inspections.at_bench.step_content import test_of
from inspections.at_bench.test_set import fits, none_holds
from inspections.at_bench.units_here import unit_of
from inspections.bench import Context
from inspections.bench.wanted import is_wanted
from inspections.models import InspectionStep, Reading

RECENT_READINGS = 60
LISTED_INSTRUMENTS = 500
MOST_OPEN = 2  # choices that are shown one below the other; of more, one line with what is chosen


class StepEntry:
    """Lays out a step from its own readings, last time's and the instruments at hand; six queries at most.

    What the layout of one place does not need is not read. Also holds the refused texts, when a page is shown again
    with what was typed.

    context  function that returns the Context of the step, for what a place is expected to show
    """

    def __init__(self, step, instruments, *, refused=None, context=Context):
        self.step = step
        self.context = context
        self._settings = {}
        self.test = test_of(step)
        self.instruments = {choice.pk: choice for choice in instruments}
        self.refused = refused or {}
        self.readings = _all_readings(step.pk)
        self.standing = {r.slot: r for r in self.readings if r.superseded_at is None}
        self.contested = [r for r in self.readings if r.is_contested]
        self.chosen = chosen_options(step, self.standing.values())

    @cached_property
    def last_step(self):
        """The step at the last inspection with it, None if there was none."""
        return InspectionStep.objects.last_time(self.step).select_related("inspection__signed_by").first()

    @cached_property
    def last(self):
        return {reading.slot: reading for reading in last_readings(self.last_step)}

    @property
    def fixed_words(self):
        """The choices that the procedure made, as the page holds them: “alarm=disconnection”."""
        return ",".join(f"{choice}={option}" for choice, option in fixed_choices(self.step).items())

    def choices(self):
        """Places of the choices that the procedure leaves open: `open`, and `folded` into one line with what is chosen.

        Folded is what begins with the machine's record; and all of them where more than MOST_OPEN, or any one before a
        table, would push the first field out of sight.
        """
        fixed = fixed_choices(self.step)
        places = [
            self._place(choice_slot(spec), options=spec.options, default=spec.default)
            for spec in self.test.choices
            if spec.key not in fixed
        ]
        asked = [place for place in places if not place.is_from_record]
        begins_with_table = not any(spec.required or spec.asked for spec in self.test.readings)
        if sum(place.is_wanted for place in asked) > (0 if begins_with_table else MOST_OPEN):
            asked = []
        folded = [place for place in places if place not in asked]
        is_changed = any(place.reading for place in folded)
        return {"open": asked, "folded": folded, "is_changed": is_changed}

    def values(self):
        """Places of the single readings and observations, `needed` and `optional`."""
        places = [self._place(reading_slot(spec, field=spec.key)) for spec in self.test.readings]
        return _parted(places, lambda place: place.slot.required)

    def tables(self):
        """The tables, `needed` and `optional`; one that no result waits for is optional."""
        tables = [self._table(spec) for spec in self.test.tables]
        return _parted(tables, lambda table: table.min_rows > 0 or table.is_expected)

    @cached_property
    def questions(self):
        """What was asked about readings of the step and waits for an answer."""
        return open_questions_at(self.step)

    @property
    def places_with_last(self):
        """Every place that was read last time."""
        choices, values = self.choices(), self.values()
        singles = [*choices["open"], *choices["folded"], *values["needed"], *values["optional"]]
        tables = [table for kind in self.tables().values() for table in kind]
        cells = [place for table in tables for row in table.rows for place in row.places]
        return [place for place in (*singles, *cells) if place.last]

    @property
    def test_set(self):
        """The instruments in the test set of the person who asks."""
        return [choice for choice in self.instruments.values() if choice.is_in_set]

    @property
    def listed_instruments(self):
        """Those whose codes the page knows by itself; the server knows all of them."""
        return list(self.instruments.values())[:LISTED_INSTRUMENTS]

    def proposals(self):
        """Each column, and each place without a reading outside of tables, with the instrument that it starts with."""
        columns = [column for kind in self.tables().values() for table in kind for column in table.columns]
        singles = [
            place for kind in self.values().values() for place in kind if not place.reading and not place.options
        ]
        return [
            Proposal(one.names, one.settings.instrument_id)
            for one in (*columns, *singles)
            if one.settings.instrument_id
        ]

    @property
    def is_wide(self):
        """Whether a table of the test needs more room than one of two or three columns."""
        return any(len(spec.columns) > 3 for spec in self.test.tables)

    @property
    def fields(self):
        """Keys of everything at which something can be wrong."""
        fixed = fixed_choices(self.step)
        specs = (*self.test.choices, *self.test.readings, *self.test.tables)
        return [spec.key for spec in specs if spec.key not in fixed]

    def row(self, spec, number):
        slots = [reading_slot(column, field=spec.key, row=number, column=column.key) for column in spec.columns]
        return Row(number, [self._place(slot) for slot in slots])

    def place(self, slot):
        """The place of one slot, as an answer to a reading shows it: without last time's reading."""
        spec = next((spec for spec in self.test.choices if spec.key == slot.field), None)
        asked = {"options": spec.options, "default": spec.default} if spec else {}
        return self._place(slot, **asked, with_last=False)

    def _table(self, spec):
        heads = [reading_slot(column, field=spec.key, column=column.key) for column in spec.columns]
        columns = [Column(slot, self.settings(slot), self._offered(slot)) for slot in heads]
        highest = max((slot[1] for slot in [*self.standing, *self.refused] if slot[0] == spec.key), default=-1)
        count = min(MAX_ROWS, max(spec.suggested_rows, highest + 2))
        rows = [self.row(spec, number) for number in range(count)]
        shown = is_wanted(spec, self.chosen) or highest >= 0
        words = (spec.key, spec.label, spec.help, spec.min_rows, spec.is_expected)
        return Table(*words, columns, rows, self.row(spec, MAX_ROWS), spec.wanted, shown)

    def _place(self, slot, *, options=(), default="", with_last=True):
        typed, refusal = self.refused.get(slot.key, (None, ""))
        reading = self.standing.get(slot.key)
        if typed is None and default and reading is None:
            typed = default
        options = options or tuple((value, value.capitalize()) for value in slot.options)
        settings = _settings_of(reading) if reading else self.settings(slot)
        contests = [contested for contested in self.contested if contested.slot == slot.key]
        last, offered = self.last.get(slot.key) if with_last else None, self._offered(slot)
        shown = bool(reading or refusal or contests) or is_wanted(slot, self.chosen)
        was = corrections_at(slot.key, self.readings)
        place = Place(slot, settings, reading, last, offered, options, typed, refusal, contests, shown, was)
        if slot.column and reading and self._has_own_instrument(reading, slot):
            place.own_instrument = reading.instrument.code
        if place.lacks_instrument:
            place.unheld = none_holds(reading, slot, offered, self.step.inspection.ambient_pa_abs)
        return place

    def _has_own_instrument(self, reading, slot):
        return reading.instrument_id is not None and reading.instrument_id != self.settings(slot).instrument_id

    @property
    def contests(self):
        """Each contested reading with its place, in words for whoever chooses."""
        return [
            Contest(find_slot(self.step, *contested.slot), self.standing.get(contested.slot), contested)
            for contested in self.contested
        ]

    def settings(self, slot):
        """What a place without a reading starts with; the same for every cell of a column.

        Its unit is that of the inspection, whatever was typed in one place or last time. A zero is as it was here, else
        as last time, where all readings of the column agree in it; else as declared.
        """
        if slot.options:
            return Settings()
        column = (slot.field, slot.column)
        if column not in self._settings:
            here, before = self._of_column(self.readings, slot), self._of_column(self.last.values(), slot)
            unit = unit_of(slot, self.step.inspection.units, self.step.inspection.machine.site.place_format)
            zero = _common_zero(here) or _common_zero(before) or slot.zero
            self._settings[column] = Settings(unit, zero, self._first_instrument(slot, here, before))
        return self._settings[column]

    def _first_instrument(self, slot, here, before):
        """The instrument to begin with: none for what is set or shown by the machine, unless a reading named one.

        Else the one last used in the place, where it holds what is expected; else as proposed.
        """
        named = [reading.instrument_id for reading in (*here[-1:], *before[-1:]) if reading.instrument_id]
        if not slot.needs_instrument and not named:
            return None
        expected = expected_values(slot, before, self.context, self.test)
        used = self.instruments.get(here[-1].instrument_id) if here else None
        if used and not used.refusal and (not expected or fits(used, slot.dimension, expected)):
            return used.pk
        return proposed_instrument(self._offered(slot), slot, expected, self.latest_instruments.get(slot.dimension))

    def _of_column(self, readings, slot):
        return [r for r in readings if (r.field, r.column) == (slot.field, slot.column)]

    def _offered(self, slot):
        return [choice for choice in self.instruments.values() if slot.dimension in choice.dimensions]

    @cached_property
    def latest_instruments(self):
        """By dimension, the instrument last read in this inspection."""
        recent = Reading.objects.filter(step__inspection=self.step.inspection_id, instrument__isnull=False)
        rows = recent.order_by("-pk").values_list("unit", "instrument_id")[:RECENT_READINGS]
        found = [(find_unit(unit), instrument_id) for unit, instrument_id in reversed(rows)]
        return {known[0].code: instrument_id for known, instrument_id in found if known}


@prepared
def _all_readings(step):
    return Reading.objects.filter(step=step).with_everybody().order_by("entered_at", "pk")


def _parted(things, is_needed):
    needed = [thing for thing in things if is_needed(thing)]
    return {"needed": needed, "optional": [thing for thing in things if not is_needed(thing)]}


def last_readings(step):
    """The current readings of the step at the last inspection, none if there was none."""
    return Reading.objects.current().filter(step=step).order_by("row", "pk") if step else []


def _common_zero(readings):
    zeros = {reading.zero for reading in readings}
    return zeros.pop() if len(zeros) == 1 else ""


def _settings_of(reading):
    return Settings(reading.unit, reading.zero, reading.instrument_id)
