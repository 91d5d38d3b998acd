"""A circuit with what was last measured on its machine, in place of what plates say.

A result that passed counts as measured. One that is reported only, or that passed with a condition, is too coarse to
prove anything: it never makes a protection stronger than its plate says. A failed one is kept apart (see
fleet/circuit/as_found.py), so that it never closes a hazard; a cut-off that never cut off is the failure "stuck open".
"""

from collections import defaultdict
from collections.abc import Callable, Mapping
from dataclasses import replace
from types import MappingProxyType

from fleet.catalogue import COMPONENT_KINDS
from fleet.circuit.elements import ELEMENTS
from fleet.circuit.file_component import dimensions_of
from fleet.circuit.structure import Circuit, Component
from fleet.extensions import MeasuredValue, MeasuredValues

PASSED, FAILED = ("pass",), ("fail", "conditional fail")
FAILURE = "failure"  # the key under which a failure is listed with the measured values
# Which way a value makes a protection weaker; a value that is not listed does both, depending on the cause.
WEAKER: Mapping[str, Callable[[float, float], float]] = MappingProxyType(
    {"cut_pressure": min, "alarm_pressure": min, "leak_flow": max}
)


def with_measured(circuit: Circuit, measured: MeasuredValues, codes: Mapping[int, str]):
    """Return the circuit with what was measured, and the origin of each value and failure in words.

    codes  component code of each record by key; a measured value may name either
    """
    by_component, words = defaultdict(dict), {}
    components = {component.code: component for component in circuit.components}
    for (which, key), told in measured.items():
        code, value = codes.get(which, which), MeasuredValue(*told)
        if code in components and _counts(components[code], key, value):
            by_component[code][key] = value
            words[code, FAILURE if value.failure else key] = value.words
    if not words:
        return circuit, MappingProxyType({})
    changed = tuple(
        as_measured(component, by_component[component.code]) if component.code in by_component else component
        for component in circuit.components
    )
    return replace(circuit, components=changed), MappingProxyType(words)


def _counts(component: Component, key: str, measured: MeasuredValue) -> bool:
    if measured.failure:
        return measured.failure in ELEMENTS[component.kind].failures
    return key in dimensions_of(COMPONENT_KINDS[component.kind])


def as_measured(component: Component, measured: Mapping[str, MeasuredValue]) -> Component:
    """Return a component with these values, by key, and with the failure that one of them found."""
    sound, found, failed = dict(component.values), dict(component.values), component.failed
    for key, one in measured.items():
        if one.failure:
            failed = one.failure
            continue
        value = one.value if one.decision in PASSED else _not_stronger(component, key, one.value)
        found[key] = value
        if one.decision in PASSED or (one.decision not in FAILED and key in WEAKER):
            sound[key] = value
    apart = failed != component.failed or found != sound
    return replace(
        component,
        values=MappingProxyType(found),
        failed=failed,
        sound_values=MappingProxyType(sound) if apart else component.sound_values,
    )


def _not_stronger(component: Component, key: str, value: float) -> float:
    if key not in WEAKER:
        return value
    declared = ELEMENTS[component.kind].values.get(key)
    plate = component.values.get(key, declared.default if declared else value)
    return WEAKER[key](plate, value)
