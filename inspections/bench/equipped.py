"""A test as it is done on one machine: without what is about equipment and gases that the machine is known to lack."""

from collections.abc import Iterable, Mapping, Set
from dataclasses import replace
from functools import lru_cache

from .declarations import ChoiceSpec, ReadingSpec, ResultSpec, TableSpec, Test
from .passages import equipment_in, for_machine
from .readings import Sheet

Lacks = frozenset[str]
NOTHING: Lacks = frozenset()
_TEXTS = {
    ReadingSpec: ("label", "help"), TableSpec: ("label", "help"), ChoiceSpec: ("label",), ResultSpec: ("label",),
    Test: ("title", "purpose"),
}  # fmt: skip


@lru_cache(maxsize=1024)
def on_machine(test: Test, lacks: Lacks) -> Test:
    """Return the test as a machine that lacks `lacks` (codes of passages.EQUIPMENT) takes it.

    A reading, table, choice, option or result whose `needs` are not all met is left out, and so are a reading wanted
    with an option that is left out, one that judged no other result, and the limits of a result that is left out.
    """
    choices = [_choice(spec, lacks) for spec in _met(test.choices, lacks)]
    offered = {spec.key: {value for value, _ in spec.options} for spec in choices}
    settled = {spec.key: spec.default for spec in test.choices if spec.key not in offered}
    results = tuple(_worded(spec, lacks) for spec in _met(test.results, lacks))
    kept = {spec.key for spec in results}
    readings = _readings(test.readings, lacks, kept)
    tables = [table for table in (_table(spec, lacks, kept) for spec in _met(test.tables, lacks)) if table.columns]
    readings, tables, choices = (_wanted(specs, offered, settled) for specs in (readings, tables, choices))
    return replace(
        _worded(test, lacks),
        cautions=tuple(filter(None, (for_machine(caution, lacks).strip() for caution in test.cautions))),
        readings=readings,
        tables=tables,
        choices=choices,
        results=results,
        default_limits=tuple(one for one in test.default_limits if one.key in kept),
    )


@lru_cache(maxsize=256)
def equipment_of(test: Test) -> frozenset[str]:
    """Return the codes of all equipment and gases that anything of the test asks for."""
    specs = [*test.all_readings(), *test.tables, *test.choices, *test.results]
    needs = {code for spec in specs for code in spec.needs}
    needs |= {code for choice in test.choices for codes in choice.option_needs.values() for code in codes}
    texts = [getattr(spec, name) for spec in (*specs, test) for name in _TEXTS[type(spec)]]
    texts += [*test.cautions, *(label for choice in test.choices for _, label in choice.options)]
    return frozenset(needs).union(*map(equipment_in, texts))


def sheet_on(test: Test, sheet: Sheet) -> Sheet:
    """Return what of a sheet the test has a place for on the machine."""
    readings, tables = {spec.key for spec in test.readings}, {spec.key: spec.columns for spec in test.tables}
    offered = {(choice.key, value) for choice in test.choices for value, _ in choice.options}
    rows = {}
    for key in sheet.tables.keys() & tables.keys():
        columns = {column.key for column in tables[key]}
        rows[key] = tuple({name: one for name, one in row.items() if name in columns} for row in sheet.tables[key])
    values = {key: one for key, one in sheet.values.items() if key in readings}
    return Sheet(values, rows, {key: one for key, one in sheet.choices.items() if (key, one) in offered})


def _met(specs: Iterable, lacks: Lacks) -> list:
    return [spec for spec in specs if not lacks.intersection(spec.needs)]


def _worded(spec, lacks: Lacks):
    """Return a declaration with its texts as they read for the machine."""
    texts = {name: for_machine(getattr(spec, name), lacks) for name in _TEXTS[type(spec)]}
    return replace(spec, **texts) if any(getattr(spec, name) != text for name, text in texts.items()) else spec


def _choice(spec: ChoiceSpec, lacks: Lacks) -> ChoiceSpec:
    """Return a choice with the options left; the first of them is its default where that is not among them."""
    options = tuple(
        (value, for_machine(label, lacks))
        for value, label in spec.options
        if not lacks.intersection(spec.option_needs.get(value, ()))
    )
    default = spec.default if spec.default in dict(options) else options[0][0]
    return replace(_worded(spec, lacks), options=options, default=default, option_needs={})


def _wanted(specs: Iterable, offered: Mapping[str, Set[str]], settled: Mapping[str, str]) -> tuple:
    """Return the declarations that can still be wanted, with the options that are left to want them.

    offered  the options left by choice
    settled  the option that holds, by choice that is left out
    """
    found = []
    for spec in specs:
        together = [_left(pairs, offered, settled) for pairs in spec.wanted]
        possible = tuple(pairs for pairs in together if pairs is not None)
        if possible or not spec.wanted:
            found.append(replace(spec, wanted=() if () in possible else possible))
    return tuple(found)


def _left(pairs: Iterable[tuple[str, str]], offered: Mapping[str, Set[str]], settled: Mapping[str, str]):
    """Return what is left to choose of options that go together; None where they no longer can."""
    if any(option not in offered.get(choice, {settled.get(choice)}) for choice, option in pairs):
        return None
    return tuple((choice, option) for choice, option in pairs if choice in offered)


def _readings(specs: Iterable[ReadingSpec], lacks: Lacks, kept: set[str]) -> tuple[ReadingSpec, ...]:
    found = []
    for spec in _met(specs, lacks):
        judges = tuple(key for key in spec.judges if key in kept)
        if judges or spec.unjudged:
            found.append(replace(_worded(spec, lacks), judges=judges))
    return tuple(found)


def _table(spec: TableSpec, lacks: Lacks, kept: set[str]) -> TableSpec:
    columns = _readings(spec.columns, lacks, kept)
    sets = tuple(key for key in spec.sets if key in {column.key for column in columns})
    return replace(_worded(spec, lacks), columns=columns, sets=sets)
