"""From stored readings to results: the bridge between the records and the bench tests."""

import logging
from dataclasses import dataclass, replace
from functools import cached_property

from fleet.catalogue.plausibility import value_problem
from fleet.models import Calibration, Component, Instrument
from fleet.models.querysets.prepared_queries import prepared
from fleet.web.at_site import day_words
from inspections import bench
from inspections.at_bench.conditional_results import with_conditional_remarks
from inspections.at_bench.instrument_corrections import corrections_in_force, identity_of
from inspections.at_bench.limits_here import LimitsHere
from inspections.at_bench.slots import find_slot, fixed_choices
from inspections.at_bench.step_content import lacked_by_step, test_of
from inspections.bench import Accuracy, BenchError, Context, Evaluation, Scale, Sheet, Zero, to_si
from inspections.bench.decision_words import is_settled
from inspections.bench.declarations import AMBIENT_STD_PA
from inspections.bench.serialise_recorded import oxygen_from_dict
from inspections.bench.strictest import evaluate_by_all
from inspections.errors import ReadingRefused
from inspections.models import Reading
from inspections.result_display import step_words

ZERO_CELSIUS_K = 273.15
VAPORIZERS = ("vaporizer", "measured-flow-vaporizer")
log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class StepResult:
    """What a step says now: its evaluation, or the reading that cannot be."""

    evaluation: Evaluation
    error: str = ""
    error_key: str = ""

    @property
    def is_complete(self):
        return not self.error and not self.evaluation.missing

    @property
    def decisions(self):
        return [result.decision for result in self.evaluation.results if result.decision]

    @property
    def decided(self):
        """Map the key of each result that has a decision to that, as a word."""
        return {result.key: str(result.decision) for result in self.evaluation.results if result.decision}

    @property
    def is_settled(self):
        """Whether the results prove something: one was judged at least, and none left undecided."""
        return self.is_complete and is_settled(result.decision for result in self.evaluation.results)

    @property
    def words(self):
        """The worst decision so far in words, empty before the first."""
        return step_words(self.evaluation.results)


class Evaluator:
    """Evaluates the steps of one inspection; reads overrides, instruments and (where asked for) components once.

    corrections  function of a reading that returns its AppliedCertificate or None; by default that of the calibration
                 in force, of instruments whose readings are corrected
    """

    def __init__(self, inspection, *, corrections=None):
        self.inspection = inspection
        self.on = inspection.machine.site.date_of(inspection.opened_at)
        self.limits_here = LimitsHere(inspection.machine, self.on)
        self.instruments, self.unusable = {}, {}
        self._scaled = {instrument.code: instrument for instrument in _instruments_of(inspection.pk)}
        for instrument in self._scaled.values():
            try:
                self.instruments[instrument.code] = bench_instrument(instrument)
            except (ArithmeticError, ValueError) as error:
                self.unusable[instrument.code] = (
                    f"instrument {instrument.code} cannot be used ({error}) Correct its scale or choose another."
                )
        self.corrections = corrections or corrections_in_force(self._scaled.values(), inspection.machine.site)

    @cached_property
    def components(self):
        return _components_of(self.inspection.machine_id, self.on)

    def evaluate(self, step, readings=None):
        """Return the StepResult of a step; `readings` are its current ones, fetched if not given.

        What cannot be evaluated becomes the error of the result, and a line in the log: the page on which it can be
        corrected has to open.
        """
        if readings is None:
            readings = Reading.objects.current().filter(step=step).select_related("instrument")
        return self.judged(step, lambda: evaluate_by_all(*self.inputs(step, readings)))

    def judged(self, step, make):
        """Return the StepResult of a step whose evaluation `make()` returns, as evaluated, or raises as impossible."""
        try:
            evaluation = self.limits_here.within_set(make(), step)
            return StepResult(with_conditional_remarks(step, evaluation))
        except BenchError as error:
            log.info("step %s cannot be evaluated: %s", step.pk, error)
            return StepResult(Evaluation(), str(error), error.key)
        except (ArithmeticError, ValueError, ReadingRefused) as error:
            log.warning("step %s cannot be evaluated", step.pk, exc_info=True)
            return StepResult(Evaluation(), f"This step cannot be evaluated: {error}")

    def inputs(self, step, readings):
        """Return the test, the sheet, the context and the limits, on which the result of a step rests.

        Raise BenchError for what cannot be used.
        """
        self._refuse_unusable(readings)
        judges = self.limits_here.judges(step)
        sheet = build_sheet(step, readings, self.instrument_key)
        return test_of(step), sheet, self.context(step, judges), judges

    def instrument_key(self, reading):
        """Return by which key the context holds the instrument of a reading, corrected as on the day of the reading."""
        if reading.instrument is None:
            return None
        code, applied = reading.instrument.code, self.corrections(reading)
        if applied is None or code in self.unusable:
            return code
        key = f"{code} by {applied.certificate}"
        if key not in self.instruments:
            corrected = bench_instrument(self._scaled[code], applied.by_scale)
            self.instruments[key] = replace(corrected, code=code)
        return key

    def _refuse_unusable(self, readings):
        for reading in readings:
            if reading.instrument and reading.instrument.code in self.unusable:
                raise BenchError(key_of(reading), f"{reading}: {self.unusable[reading.instrument.code]}")

    def context(self, step, judges=None):
        """Ambient conditions, rated values, instruments and the first of the limits that judge each result."""
        judges = self.limits_here.judges(step) if judges is None else judges
        return Context(
            ambient_pa_abs=self.inspection.ambient_pa_abs,
            temperature_k=self.inspection.temperature_c + ZERO_CELSIUS_K,
            rated=self._rated(step),
            instruments=self.instruments,
            limits={key: limits[0] for key, limits in judges.items()},
            built_year=self.inspection.machine.built_year,
            **self._recorded(test_of(step)),
            assumed=self._assumed(),
            units=self.inspection.units,
            lacks=lacked_by_step(step),
        )

    def context_or_plain(self, step):
        """The context of a step, or one of standard surroundings where something in it cannot be used."""
        try:
            return self.context(step)
        except (BenchError, ArithmeticError, ValueError):
            return Context()

    def _recorded(self, test):
        """What the records say of safety features, vaporizers, oxygen and ventilator, for a test that asks for it."""
        found = {"oxygen": self._oxygen} if "oxygen" in test.asks else {}
        if "ventilator" in test.asks:
            found["ventilator"] = ventilator_type(self.components)
        if test.features:
            count = count_vaporizers(self.components, self.inspection.machine.model)
            found |= {"features": self._features, "vaporizers": count}
        return found

    @cached_property
    def _oxygen(self):
        """What supplies the site; of a signed inspection as its record says, where an older one says nothing."""
        record = getattr(self.inspection, "record", None) if self.inspection.signed_at else None
        if record is None:
            return self.inspection.machine.site.oxygen
        return oxygen_from_dict(record.read()["conditions"].get("oxygen"))

    @cached_property
    def _features(self):
        states = self.inspection.machine.feature_states.on(self.on)
        return {state.feature: str(state.state) for state in states}

    def _assumed(self):
        """What of the surroundings nobody measured. The room temperature has a field that is always filled."""
        if self.inspection.ambient_kpa_abs is not None:
            return {}
        shown = self.inspection.ambient_pa_abs / 1000
        std = 2 * AMBIENT_STD_PA / 1000
        return {"ambient": f"ambient pressure {shown:.1f} kPa ± {std:g} kPa (k = 2), from the altitude of the site."}

    def _rated(self, step):
        components = [step.component] if step.component else [c for c in self.components if c.gas == step.subject]
        rated = {}
        for component in components:
            for key, (value, unit) in component.rated.items():
                rated[key] = _rated_si(component, key, value, unit)
        return rated


@prepared
def _instruments_of(inspection):
    return Instrument.objects.filter(readings__step__inspection=inspection).distinct().prefetch_related("scales")


@prepared
def _components_of(machine, day):
    return Component.objects.on(day).filter(machine=machine)


def ventilator_type(components):
    """Return the type of the recorded ventilators; empty where none, or several types, are recorded."""
    types = {one.options.get("type", "") for one in components if one.kind == "ventilator"}
    return types.pop() if len(types) == 1 else ""


def vaporizers_of(machine, on):
    """Return how many vaporizers a machine has on a day."""
    return count_vaporizers(machine.components.on(on), machine.model)


def count_vaporizers(components, model):
    """Return how many vaporizers are recorded; where none is, as many as the model has places for."""
    return sum(component.kind in VAPORIZERS for component in components) or model.vaporizer_positions


def _rated_si(component, key, value, unit):
    try:
        problem = value_problem(value, unit)
        if problem is None:
            return to_si(value, unit)
        told = problem.of(f"{value:g} {unit}")
    except ValueError as error:
        told = str(error)
    raise BenchError("", f"{component}, {key.replace('_', ' ')}: {told}")


def build_sheet(step, readings, instrument_key=None):
    """Arrange the current readings of a step as the test declares them; instrument_key names each one's instrument.

    A table keeps its empty rows, so that the bench counts rows as the page does.
    """
    values, tables = {}, {}
    for reading in readings:
        if _is_choice(step, reading):
            continue
        one = bench_reading(reading, instrument_key)
        if reading.column:
            tables.setdefault(reading.field, {}).setdefault(reading.row, {})[reading.column] = one
        else:
            values[reading.field] = one
    rows = {field: tuple(table.get(row, {}) for row in range(max(table) + 1)) for field, table in tables.items()}
    return Sheet(values=values, tables=rows, choices=chosen_options(step, readings))


def chosen_options(step, readings):
    """What is chosen of each choice of a step's test, by its key: the default until something else is entered."""
    defaults = {spec.key: spec.default for spec in test_of(step).choices} | fixed_choices(step)
    return defaults | {reading.field: reading.as_read for reading in readings if _is_choice(step, reading)}


def _is_choice(step, reading):
    return find_slot(step, reading.field, reading.row, reading.column).dimension == "choice"


def bench_reading(reading, instrument_key=None):
    """The stored reading as the bench takes it; a yes counts 1, a no counts 0. Raise BenchError for no number."""
    number = {"yes": 1.0, "no": 0.0}.get(reading.as_read)
    try:
        return bench.Reading(
            value=float(reading.as_read) if number is None else number,
            unit=reading.unit,
            zero=Zero(reading.zero) if reading.zero else None,
            instrument=instrument_key(reading) if instrument_key else _code_of(reading),
            repeats=tuple(float(digits) for digits in reading.all_read[1:]),
        )
    except ValueError as error:
        raise BenchError(key_of(reading), f"“{reading}” cannot be evaluated: {error}. Enter it again.") from None


def _code_of(reading):
    return reading.instrument.code if reading.instrument else None


def key_of(reading):
    """The place of a stored reading as the bench names it: “set_flow”, or “falling[1].pressure” in a table."""
    return f"{reading.field}[{reading.row + 1}].{reading.column}" if reading.column else reading.field


def bench_instrument(instrument, corrections=None):
    """The instrument with its scales in SI; corrections maps identities of scales to Corrections."""
    scales = [bench_scale(scale, (corrections or {}).get(identity_of(scale))) for scale in instrument.scales.all()]
    return bench.Instrument(instrument.code, instrument.name, tuple(scales))


def bench_scale(scale, correction=None):
    """A stored scale in SI. Differences (resolution, absolute accuracy) scale without an offset."""
    factor = bench.si_factor(scale.unit)
    accuracy = Accuracy(
        of_reading=scale.of_reading_percent / 100,
        of_span=scale.of_span_percent / 100,
        absolute_si=scale.absolute * factor,
        coverage_factor=scale.coverage_factor,
    )
    low, high = to_si(scale.low, scale.unit), to_si(scale.high, scale.unit)
    return Scale(bench.Dimension(scale.dimension), low, high, scale.resolution * factor, accuracy, correction)


def calibrations_in_force(readings, site):
    """Map (instrument, day) of every reading with an instrument to the calibration it had on that day, None if none."""
    used = {(reading.instrument, site.date_of(reading.entered_at)) for reading in readings if reading.instrument}
    history = list(Calibration.objects.filter(instrument__in={instrument for instrument, _ in used}))
    return {
        (instrument, day): next(
            (c for c in history if c.instrument_id == instrument.pk and c.calibrated_on <= day), None
        )
        for instrument, day in sorted(used, key=lambda pair: (pair[0].code, pair[1]))
    }


def instruments_out_of_calibration(readings, site):
    """Name every instrument that had no valid calibration on the day a reading was taken with it, one sentence each."""
    sentences = []
    for (instrument, day), latest in calibrations_in_force(readings, site).items():
        if latest is None:
            sentences.append(f"Instrument {instrument.code} has no calibration on or before {day_words(day)}.")
        elif latest.result not in Calibration.VALID_RESULTS:
            done = day_words(latest.calibrated_on)
            sentences.append(f"Instrument {instrument.code} was out of specification at its calibration on {done}.")
        elif latest.due_on < day:
            ended = day_words(latest.due_on)
            sentences.append(
                f"Instrument {instrument.code} was out of calibration on {day_words(day)}: it expired on {ended}."
            )
    return sentences
