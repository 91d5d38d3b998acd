"""A circuit's digest: the same for equal circuits, another for any other."""

from dataclasses import replace
from types import MappingProxyType

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.circuit.digest import circuit_digest
from fleet.circuit.structure import Connection, Port
from tests.fleet.circuit.demo_machines import NAMES, machine


@settings(max_examples=20, deadline=None)
@given(data=st.data())
def test_order_makes_no_difference(data):
    circuit = machine()
    components = tuple(data.draw(st.permutations(circuit.components)))
    shuffled = [replace(p, values=MappingProxyType(dict(reversed(p.values.items())))) for p in components]
    connections = tuple(data.draw(st.permutations(circuit.connections)))
    other = replace(circuit, code="other", title="Another", components=tuple(shuffled), connections=connections)
    assert circuit_digest(other) == circuit_digest(circuit)


def first_changed(circuit, **changes):
    return replace(circuit, components=(replace(circuit.components[0], **changes), *circuit.components[1:]))


@pytest.mark.parametrize(
    "change",
    [
        lambda c: replace(c, components=c.components[1:]),
        lambda c: replace(c, connections=c.connections[1:]),
        lambda c: replace(c, fittings=c.fittings | {"flush-guard"}),
        lambda c: replace(c, ambient_pa_abs=84_560.0),
        lambda c: first_changed(c, label="Another label"),
        lambda c: first_changed(c, gas="air"),
        lambda c: first_changed(c, options={"type": "x"}),
        lambda c: first_changed(c, values={**c.components[0].values, "pipeline_pressure": 345_000.0}),
        lambda c: replace(c, connections=(Connection(Port("a", "b"), Port("c", "d")), *c.connections)),
        lambda c: replace(c, connections=(replace(c.connections[0], size="30 mm"), *c.connections[1:])),
    ],
)
def test_any_change_makes_another(change):
    assert circuit_digest(change(machine())) != circuit_digest(machine())


def test_it_is_64_hex_digits_and_differs_between_machines():
    digests = {circuit_digest(machine(name)) for name in NAMES}
    assert len(digests) == len(NAMES)
    assert all(len(digest) == 64 and int(digest, 16) >= 0 for digest in digests)
