"""Which instruments of a site are good enough for the steps of a procedure, said before the work begins."""

from dataclasses import dataclass, replace

from inspections import bench
from inspections.at_bench.evaluation import bench_instrument
from inspections.at_bench.instrument_choice import instruments_at
from inspections.at_bench.instrument_corrections import certificates_on
from inspections.at_bench.limit_texts import limit_text
from inspections.at_bench.test_set import best_fit
from inspections.bench import BenchError, from_si, get_test, interval_from_si
from inspections.bench.equipped import sheet_on
from inspections.bench.examples import EXAMPLES
from inspections.bench.judging import two_figures
from inspections.bench.uncertainty_ratio import (
    DESIRED,
    LEAST,
    needed_accuracy,
    places_of,
    ratios,
    thought_of,
    typical_sheet,
    with_instruments,
)

GOOD, USABLE, NOT_ENOUGH, NONE = "good enough", "below 4 : 1", "not good enough", "no instrument"


@dataclass(frozen=True, slots=True)
class AskedStep:
    """A step as far as instruments go: its title, its test, and the limits that judge its results, by key.

    lacks  what its machine is known to lack, as frozen with the step; nothing where no machine is meant
    """

    title: str
    test_code: str
    judges: dict
    lacks: frozenset = frozenset()


@dataclass(frozen=True, slots=True)
class NeededResult:
    """One result of a step in words; `needed` says what an instrument must have, empty where those here will do."""

    label: str
    demand: str
    uncertainty: str
    half_tolerance: str
    ratio: str
    standing: str
    needed: str


@dataclass(frozen=True, slots=True)
class NeededStep:
    """A step, the codes of the best instruments for it, the dimensions that none measures, and its results."""

    titles: tuple[str, ...]
    test_title: str
    instruments: tuple[str, ...]
    lacking: tuple[str, ...]
    results: tuple[NeededResult, ...]
    error: str = ""

    @property
    def is_enough(self):
        return not self.lacking and not self.error and all(one.standing == GOOD for one in self.results)


def needed_instruments(steps, site, day):
    """Return the NeededSteps of steps at a site on a day; equal ones once. The queries do not grow with the steps."""
    offered = [choice for choice in instruments_at(site, day) if not choice.refusal]
    owned = _owned(offered, day)
    titles = {}
    for step in steps:
        if step.test_code in EXAMPLES:
            key = (step.test_code, step.lacks, repr(sorted(step.judges.items())))
            titles.setdefault(key, (step, []))[1].append(step.title)
    found = [_of_step(step, tuple(named), offered, owned) for step, named in titles.values()]
    return [one for one in found if one.results or one.lacking or one.error]


def _owned(offered, day):
    """The instruments as the bench takes them, by key, corrected where their readings are."""
    applied = certificates_on([choice.instrument for choice in offered], day)
    found = {}
    for choice in offered:
        one = applied.get(choice.pk)
        try:
            found[choice.pk] = bench_instrument(choice.instrument, one.by_scale if one else None)
        except (ArithmeticError, ValueError):
            continue
    return found


def _of_step(step, titles, offered, owned):
    test = get_test(step.test_code, step.lacks)
    sheet, context = typical_sheet(test)
    sheet, context = sheet_on(test, sheet), replace(context, lacks=step.lacks)
    places = places_of(test, sheet)
    chosen, lacking, instruments = {}, [], {}
    for place in places:
        best = best_fit([one for one in offered if one.pk in owned], place.spec.dimension, place.values_si)
        instrument = owned[best.pk] if best else thought_of(place)
        if best is None:
            lacking.append(_lacking(place))
        chosen[place.field, place.column], instruments[instrument.code] = instrument.code, instrument
    sheet = with_instruments(sheet, chosen)
    limits = {key: found[0] for key, found in step.judges.items() if found}
    context = replace(context, instruments=instruments, limits=limits)
    own = tuple(dict.fromkeys(code for code in chosen.values() if code in {one.code for one in owned.values()}))
    try:
        results = _results(test, sheet, context, places, step.judges, is_lacking=bool(lacking))
    except BenchError as error:
        return NeededStep(titles, test.title, own, tuple(dict.fromkeys(lacking)), (), str(error))
    return NeededStep(titles, test.title, own, tuple(dict.fromkeys(lacking)), tuple(results))


def _results(test, sheet, context, places, judges, *, is_lacking):
    return [
        _result(one, test, sheet, context, places, is_lacking=is_lacking)
        for one in ratios(test, sheet, context, judges)
    ]  # fmt: skip


def _result(one, test, sheet, context, places, *, is_lacking):
    standing = _standing(one, is_lacking)
    needed = "" if standing == GOOD else _needed_words(one, test, sheet, context, places)
    unit = one.limit.unit
    return NeededResult(
        one.result.label, limit_text(one.limit), "" if is_lacking else f"{_interval(one.expanded_si, unit)}",
        _interval(one.half_tolerance_si, unit), "" if is_lacking else f"{two_figures(min(one.ratio, 999))} : 1",
        standing, needed,
    )  # fmt: skip


def _standing(one, is_lacking):
    if is_lacking:
        return NONE
    if one.ratio >= DESIRED:
        return GOOD
    return USABLE if one.ratio >= LEAST else NOT_ENOUGH


def _needed_words(one, test, sheet, context, places):
    unit = one.limit.unit
    words = f"U of {_interval(one.sufficient_si(DESIRED), unit)} or less"
    found = needed_accuracy(test, sheet, context, places, one, DESIRED)
    if not found:
        return f"{words}; no accuracy gives that: resolution, surroundings or the method itself leave more"
    parts = [
        f"{each.place.spec.dimension.entry.name.lower()} ± {_interval(each.accuracy_si, each.place.unit)} (k = 2) at "
        f"{_value(each.value_si, each.place.unit)}"
        for each in found
    ]
    return f"{words}; with {' and '.join(parts)}"


def _lacking(place):
    low, high = (_value(end(place.values_si), place.unit) for end in (min, max))
    values = high if low == high else f"{low} to {high}"
    return f"{place.spec.dimension.entry.name.lower()}, {values}"


def _interval(si, unit):
    return f"{two_figures(interval_from_si(si, unit))} {unit}"


def _value(si, unit):
    return f"{float(f'{from_si(si, unit):.3g}'):g} {unit}"


def steps_of_content(content, judges_of):
    """Return the AskedSteps of the content of a procedure version; `judges_of` gives the limits of a step's content."""
    known = bench.TESTS
    return [
        AskedStep(step["title"], step["test"], judges_of(step)) for step in content["step"] if step["test"] in known
    ]
