"""From a sheet as read to SI values with the uncertainty of the instruments."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar

from .assumed_accuracy import OWN_SHARE, assumed_accuracy
from .chosen_units import chosen_unit
from .corrected_readings import Corrections
from .declarations import Context, ReadingSpec, ResultSpec, TableSpec, Test
from .equipped import on_machine
from .errors import BenchError
from .judging import judged_result, not_measured
from .limits import Limit, choose_limit
from .propagation import Measured
from .quantities import Dimension, Zero
from .reading_values import as_resolved, in_si, scale_for, scatter
from .readings import Reading, Sheet
from .results import Curve, Evaluation, NotJudged, Result
from .uncertainty import Estimate

Row = Mapping[str, Measured]
T = TypeVar("T")

_NO_RESULT = "It gives no result together with what else was read."


@dataclass(slots=True)
class Bench:
    """Reads one sheet for one test, and notes what is missing and what deserves a remark.

    Raises BenchError, when made, for keys and choices that the test does not have on the machine. What the test has on
    other machines only is like what was not read, and not missing.
    """

    test: Test
    sheet: Sheet
    context: Context
    missing: list[str] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    assumed: list[str] = field(default_factory=list)
    _without_accuracy: dict[tuple[str, str], list[str]] = field(default_factory=dict)
    _used: set[str] = field(default_factory=set)
    corrections: Corrections = field(init=False)
    _declared: Test = field(init=False)
    _measured: dict[tuple[str, bool, str], Measured] = field(init=False, default_factory=dict)
    _made: dict[str, object] = field(init=False, default_factory=dict)
    _quiet: "Bench | None" = field(init=False, default=None)
    _is_quiet: bool = field(init=False, default=False)

    def __post_init__(self):
        self._declared = self.test
        self.test = on_machine(self.test, self.context.lacks)
        _refuse_unknown("reading", self.sheet.values, self.test.readings)
        _refuse_unknown("table", self.sheet.tables, self.test.tables)
        _refuse_unknown("choice", self.sheet.choices, self.test.choices)
        self.corrections = Corrections(self.context.ambient_pa_abs)

    def choice(self, key: str) -> str:
        """Return the chosen option, or the default. Raises BenchError for an option that is not offered."""
        spec = self._spec("choices", key)
        if spec is None:
            return next(one for one in self._declared.choices if one.key == key).default
        chosen = self.sheet.choices.get(key) or spec.default
        offered = [value for value, _ in spec.options]
        if chosen not in offered:
            raise BenchError(key, f'{spec.label}: "{chosen}" is not offered. Choose one of: {", ".join(offered)}.')
        return chosen

    def value(
        self, key: str, *, needed: bool | None = None, nominal: bool = False, stated: str = ""
    ) -> Measured | None:
        """Return a reading in SI, None if it was not taken.

        needed   note it as missing; None means as declared
        nominal  a setting, not a measurement: no instrument is expected
        stated   what is taken from a label: a kind of assumed_accuracy, where no instrument is named
        """
        spec = self._spec("readings", key)
        if spec is None:
            return None
        reading = self.sheet.values.get(key)
        self._used.add(key)
        if reading is not None:
            return self._measure(spec, reading, key, nominal, stated=stated)
        if spec.required if needed is None else needed:
            self.missing.append(spec.label)
        return None

    def rows(self, key: str, *, needed: int | None = None, nominal: Sequence[str] = ()) -> list[tuple[int, Row]]:
        """Return the complete rows of a table as (row number from 1, column key to reading), in the order read.

        A row without all required columns is left out and noted as missing, an empty row is ignored.
        needed  the least number of complete rows; None means as declared
        """
        spec = self._spec("tables", key)
        if spec is None:
            return []
        self._used.add(key)
        found = []
        for number, row in enumerate(self.sheet.tables.get(key, ()), start=1):
            complete = self._row(spec, number, row, nominal)
            if complete:
                found.append((number, complete))
        least = spec.min_rows if needed is None else needed
        if len(found) < least:
            self.missing.append(f"{spec.label}: at least {least} complete rows ({len(found)} so far)")
        return found

    def _spec(self, kind: str, key: str):
        """Return a declaration; None where only other machines have it. Raises StopIteration if the test has none."""
        found = next((spec for spec in getattr(self.test, kind) if spec.key == key), None)
        return found or next(None for spec in getattr(self._declared, kind) if spec.key == key)

    def _row(self, spec: TableSpec, number: int, row: Mapping[str, Reading], nominal: Sequence[str]) -> Row:
        _refuse_unknown("column", row, spec.columns, f"{spec.key}[{number}].")
        columns = [column for column in spec.columns if row.get(column.key) is not None]
        measured = {
            column.key: self._measure(
                column,
                row[column.key],
                f"{spec.key}[{number}].{column.key}",
                column.key in nominal,
                f"{spec.label}, row {number}: ",
            )
            for column in columns
        }
        lacking = [column.label for column in spec.columns if column.required and column.key not in measured]
        if measured and lacking:
            self.missing.append(f"{spec.label}, row {number}: {', '.join(lacking).lower()}")
        return {} if lacking else measured

    def _measure(
        self, spec: ReadingSpec, reading: Reading, where: str, nominal: bool, place: str = "", stated: str = ""
    ) -> Measured:
        key = (where, nominal, stated)
        if not self._is_quiet or key not in self._measured:  # what is noted of a reading is noted by its own bench
            self._measured[key] = self._measure_anew(spec, reading, where, nominal, place, stated)
        return self._measured[key]

    def _measure_anew(
        self, spec: ReadingSpec, reading: Reading, where: str, nominal: bool, place: str, stated: str
    ) -> Measured:
        value = in_si(spec, reading, where, place, self.context)
        found = replace(scatter(spec, reading, value, where, place, self.context), gas=spec.gas,
                        instrument=reading.instrument or "")  # fmt: skip
        if (reading.zero or spec.zero) == Zero.ABSOLUTE:
            found = replace(found, ambient_std=-self.context.ambient_std_pa)
        if reading.instrument is None:
            if nominal or spec.dimension.entry.is_answer:
                return found
            return self._assume_accuracy(found, spec, "No instrument is named", where, stated)
        instrument = self.context.instruments.get(reading.instrument)
        if instrument is None:
            known = ", ".join(sorted(self.context.instruments)) or "none"
            message = f"{place}{spec.label}: instrument {reading.instrument} is not known here. Known: {known}."
            raise BenchError(where, message)
        number, scale = scale_for(instrument, spec, reading, found.value, where, place)
        found = as_resolved(found, scale)
        key = (f"{instrument.code} {spec.dimension}", number)
        if scale.correction and self.corrections.covers(
            scale, found.value, spec, reading.unit, (instrument.code, where)
        ):
            return self.corrections.corrected(found, scale, spec, key)
        if not scale.accuracy.is_stated:
            why = f"The accuracy of instrument {instrument.code} is not stated"
            return self._assume_accuracy(found, spec, why, where, stated)
        return replace(
            found, shared_std=scale.accuracy_std(found.value), scale=key, shared_excess=scale.accuracy.excess,
        )  # fmt: skip

    def _assume_accuracy(self, found: Measured, spec: ReadingSpec, why: str, where: str, stated: str) -> Measured:
        """Return a reading with the accuracy that is assumed where none is stated, and note that."""
        assumed = assumed_accuracy(stated or spec.dimension)
        self._note(why, assumed.words, spec.label)
        std, column = assumed.std(found.value), where.partition("[")[0] + where.partition("]")[2]
        own = (OWN_SHARE * std, 0.0) if OWN_SHARE * std > found.own_std else (found.own_std, found.own_excess)
        return replace(
            found, own_std=own[0], own_excess=own[1], shared_std=(1 - OWN_SHARE**2) ** 0.5 * std,
            scale=(column, -1) if column != where else None,
        )  # fmt: skip

    def _note(self, why: str, words: str, label: str) -> None:
        labels = self._without_accuracy.setdefault((why, words), [])
        if label not in labels:
            labels.append(label)

    def tube(self, found: Measured, label: str) -> Measured:
        """Return a flow that was set on the machine's own flowmeter with the accuracy that is assumed of that."""
        if found.instrument:
            return found
        assumed = assumed_accuracy(Dimension.FLOW)
        self._note("No instrument is named", assumed.words, label)
        return replace(found, shared_std=assumed.std(found.value))

    @property
    def ambient(self) -> Measured:
        """The ambient pressure, which readings of absolute pressures share."""
        return Measured(self.context.ambient_pa_abs, ambient_std=self.context.ambient_std_pa)

    @property
    def ambient_kelvin(self) -> Measured:
        return Measured(self.context.temperature_k, own_std=self.context.temperature_std_k)

    def unit(self, table: str, column: str) -> str:
        """Return the unit chosen for a column, else the one used first in it, else the declared default."""
        spec = next(spec for spec in self._declared.tables if spec.key == table)
        declared = next(one for one in spec.columns if one.key == column).units[0]
        read = (row[column].unit for row in self.sheet.tables.get(table, ()) if row.get(column) is not None)
        return chosen_unit(declared, self.context.units) or next(read, declared)

    def limit(self, key: str) -> Limit | None:
        """Return the limit for a result: the machine's own if given, else the default for its year."""
        own = self.context.limits.get(key)
        return own or choose_limit(self.test.default_limits, key, built_year=self.context.built_year)

    def result(
        self,
        key: str,
        estimate: Estimate,
        *,
        remark: str = "",
        convention: str = "",
        limit: Limit | None = None,
        unjudged: str = "",
    ) -> Result:
        """Return a result: judged if it has a limit and its challenge was met.

        limit     wins over the default; a machine's own limit wins over it
        unjudged  why no limit applies in this case, though the result has one
        """
        spec = self._spec("results", key) or self._declared.result_spec(key)
        chosen = None if unjudged else self.context.limits.get(key) or limit or self.limit(key)
        unmet = spec.challenge.unmet(self.aside()) if chosen else None
        return judged_result(
            spec, estimate, chosen, unmet=unmet, remark=remark, convention=convention, unjudged=unjudged,
            unit=self._chosen_unit(spec, chosen) or self._unit_read(spec),
        )  # fmt: skip

    def _unit_read(self, spec: ResultSpec) -> str:
        """Return the unit in which what a result is of was read; empty where nothing of its dimension was read."""
        read = [(one, unit) for one, unit in self._units() if one.dimension == spec.dimension]
        judging = [unit for one, unit in read if spec.key in one.judges]
        return next(iter([*judging, *(unit for _, unit in read)]), "")

    def _units(self) -> Iterator[tuple[ReadingSpec, str]]:
        """Yield each declared reading that the sheet holds with the unit in which it was read first."""
        for spec in self.test.readings:
            if (reading := self.sheet.values.get(spec.key)) is not None:
                yield spec, reading.unit
        for table in self.test.tables:
            for column in table.columns:
                rows = self.sheet.tables.get(table.key, ())
                yield from ((column, row[column.key].unit) for row in rows[:1] if row.get(column.key) is not None)

    def aside(self) -> "Bench":
        """Return the same sheet to look at again: what that notes as missing or remarkable is noted nowhere.

        It is one for all that look, and takes each reading as it was measured before.
        """
        if self._is_quiet:
            return self
        if self._quiet is None:
            self._quiet = Bench(self._declared, self.sheet, self.context)
            self._quiet._is_quiet, self._quiet._measured = True, self._measured
        return self._quiet

    def once(self, what: str, make: Callable[[], T]) -> T:
        """Return what `make` makes of the readings; on a sheet that is looked at aside, the same each time."""
        if not self._is_quiet:
            return make()
        if what not in self._made:
            self._made[what] = make()
        return self._made[what]

    def assume(self, sentence: str) -> None:
        """Note what was not read and is taken for granted; once."""
        if sentence and sentence not in self.assumed:
            self.assumed.append(sentence)

    def finish(self, results: Sequence[Result], curves: Sequence[Curve] = ()) -> Evaluation:
        """Return the evaluation: every result needed is in it, and every reading is judged or named."""
        here = {spec.key for spec in self.test.results}
        results = [one for one in results if one.key in here]  # what only other machines have is no result of this one
        results = [self._in_chosen_unit(one) for one in (*results, *self._not_measured(results))]
        curves = [replace(one, units_chosen=bool(self.context.units)) for one in curves]
        not_judged = tuple(self._not_judged(results))
        assumed = (*self.assumed, *self._assumed_accuracies())
        remarks = [*self.remarks, *(f"Assumed: {sentence}" for sentence in self.assumed), *self._assumed_accuracies()]
        remarks += self.corrections.sentences()
        remarks += [f"Not judged: {_in_sentence(one.label)} {one.reason}" for one in not_judged]
        return Evaluation(tuple(results), tuple(curves), tuple(remarks), tuple(self.missing), assumed, not_judged)

    def _in_chosen_unit(self, result: Result) -> Result:
        """Return a result in the unit chosen for it; its limit keeps its own."""
        if not self.context.units:
            return result
        chosen = self._chosen_unit(self.test.result_spec(result.key), result.limit)
        return replace(result, unit=chosen or result.unit, unit_chosen=True)

    def _chosen_unit(self, spec: ResultSpec, limit: Limit | None) -> str:
        """Return the unit chosen for a result; one that is made of others follows them from the unit of its limit."""
        given = limit.unit if limit and spec.dimension.entry.is_derived else spec.unit
        return chosen_unit(given, self.context.units)

    def _not_measured(self, results: Sequence[Result]) -> Iterator[Result]:
        if self.missing:
            return  # the sheet is not complete: what it lacks is named there
        found = {result.key for result in results}
        for spec in self.test.results:
            if spec.key not in found and spec.is_needed(self.aside()):
                yield not_measured(spec, self.context.limits.get(spec.key) or self.limit(spec.key))

    def _not_judged(self, results: Sequence[Result]) -> Iterator[NotJudged]:
        if self.missing:
            return
        judged = {one.key for one in results if one.decision is not None and one.is_measured}
        for spec, where, is_given in self._given():
            if not is_given:
                continue
            if where not in self._used:
                yield NotJudged(spec.key, spec.label, "The chosen method does not use it.")
            elif not judged & set(spec.judges):
                reasons = [one.why for one in results if one.key in spec.judges and one.why]
                yield NotJudged(spec.key, spec.label, spec.unjudged or next(iter(reasons), _NO_RESULT))

    def _given(self) -> Iterator[tuple[ReadingSpec, str, bool]]:
        """Yield each declared reading, the key under which it is asked for, and whether the sheet holds it."""
        for spec in self.test.readings:
            yield spec, spec.key, self.sheet.values.get(spec.key) is not None
        for table in self.test.tables:
            rows = self.sheet.tables.get(table.key, ())
            for column in table.columns:
                yield column, table.key, any(row.get(column.key) is not None for row in rows)

    def _assumed_accuracies(self) -> list[str]:
        """Return a sentence for each accuracy that was assumed because none is stated."""
        return [
            f"{why} for {', '.join(label[:1].lower() + label[1:] for label in labels)}: taken as {words} with k = 2 "
            "(common practice, no source)."
            for (why, words), labels in self._without_accuracy.items()
        ]


def _in_sentence(label: str) -> str:
    """Return a label within a sentence: small at first, and a colon behind it unless it is a question."""
    words = f"{label[:1].lower()}{label[1:]}"
    return words if words.endswith("?") else f"{words}:"


def _refuse_unknown(kind: str, given: Mapping, specs: Sequence, prefix: str = "") -> None:
    known = [spec.key for spec in specs]
    for key in given:
        if key not in known:
            listed = ", ".join(known) or "none"
            raise BenchError(f"{prefix}{key}", f'This test has no {kind} "{key}". It has: {listed}.')
