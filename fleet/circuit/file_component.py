"""Makes a Component from a [[component]] of a circuit file, checked against its component kind and that kind's
element.
"""

from collections.abc import Mapping
from types import MappingProxyType

from fleet.catalogue import COMPONENT_KINDS, GASES, ComponentKind
from fleet.catalogue.components import GasRule
from fleet.circuit.elements import ELEMENTS
from fleet.circuit.file_table import Table
from fleet.circuit.structure import Component

COMPONENT_KEYS = ("code", "kind", "label", "gas", "values", "options")


def component_from(table: Table) -> Component | None:
    """Return the component that a table describes, or None if its kind is unknown. The table collects the problems."""
    table.check_keys(COMPONENT_KEYS)
    code, label = table.slug("code"), table.text("label")
    kind = COMPONENT_KINDS.get(table.choice("kind", COMPONENT_KINDS, "kind of component"))
    if kind is None:
        return None
    return Component(code, kind.code, label, _gas(table, kind), _values(table, kind), _options(table, kind))


def dimensions_of(kind: ComponentKind) -> Mapping[str, str]:
    """Return the dimension of each value of a component of this kind, by key; rated values first."""
    extra = {key: value.dimension for key, value in ELEMENTS[kind.code].values.items()}
    return {**extra, **{value.key: value.dimension for value in kind.rated}}


def _gas(table: Table, kind: ComponentKind) -> str:
    given = table.data.get("gas", "")
    if given == "":
        if kind.gas is GasRule.REQUIRED:
            table.refuse(f"gas is missing; a {kind.name.lower()} carries one of {', '.join(GASES)}.")
        return ""
    if kind.gas is GasRule.NONE:
        table.refuse(f"gas is {given!r}, but a {kind.name.lower()} carries no single gas; leave it out.")
        return ""
    return table.choice("gas", GASES, "gas")


def _values(table: Table, kind: ComponentKind) -> Mapping[str, float]:
    inner, dimensions = table.inner("values"), dimensions_of(kind)
    values = {}
    for key in inner.data:
        if key not in dimensions:
            table.refuse(
                f"{key!r} is not a value of a {kind.name.lower()}. Accepted: {', '.join(dimensions) or 'none'}."
            )
        elif (si := inner.quantity(key, dimensions[key])) is not None:
            values[key] = si
    return MappingProxyType(values)


def _options(table: Table, kind: ComponentKind) -> Mapping[str, str]:
    inner, accepted = table.inner("options"), ELEMENTS[kind.code].options
    options = {}
    for key, given in inner.data.items():
        if key not in accepted:
            table.refuse(
                f"{key!r} is not an option of a {kind.name.lower()}. Accepted: {', '.join(accepted) or 'none'}."
            )
        else:
            options[key] = _option(inner, key, given, accepted[key])
    return MappingProxyType(options)


def _option(table: Table, key: str, given, words: tuple[str, ...]) -> str:
    if not isinstance(given, str):
        table.refuse(f"{key} is {given!r}; write a text in quotes.")
        return ""
    if words != ("",) and given not in words:
        table.refuse(f"{key} is {given!r}. Accepted: {', '.join(words)}.")
    return given
