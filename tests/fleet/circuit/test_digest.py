"""A circuit's digest: the same for equal circuits, another for any other."""

from dataclasses import replace
from types import MappingProxyType

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.circuit.digest import circuit_digest
from fleet.circuit.structure import Joint, Port
from tests.fleet.circuit.demo_machines import NAMES, machine


@settings(max_examples=20, deadline=None)
@given(data=st.data())
def test_order_makes_no_difference(data):
    circuit = machine()
    parts = tuple(data.draw(st.permutations(circuit.parts)))
    shuffled = [replace(p, values=MappingProxyType(dict(reversed(p.values.items())))) for p in parts]
    joints = tuple(data.draw(st.permutations(circuit.joints)))
    other = replace(circuit, code="other", title="Another", parts=tuple(shuffled), joints=joints)
    assert circuit_digest(other) == circuit_digest(circuit)


def first_changed(circuit, **changes):
    return replace(circuit, parts=(replace(circuit.parts[0], **changes), *circuit.parts[1:]))


@pytest.mark.parametrize(
    "change",
    [
        lambda c: replace(c, parts=c.parts[1:]),
        lambda c: replace(c, joints=c.joints[1:]),
        lambda c: replace(c, fittings=c.fittings | {"flush-guard"}),
        lambda c: replace(c, ambient_pa_abs=84_560.0),
        lambda c: first_changed(c, label="Another label"),
        lambda c: first_changed(c, gas="air"),
        lambda c: first_changed(c, options={"type": "x"}),
        lambda c: first_changed(c, values={**c.parts[0].values, "pipeline_pressure": 345_000.0}),
        lambda c: replace(c, joints=(Joint(Port("a", "b"), Port("c", "d")), *c.joints)),
        lambda c: replace(c, joints=(replace(c.joints[0], size="30 mm"), *c.joints[1:])),
    ],
)
def test_any_change_makes_another(change):
    assert circuit_digest(change(machine())) != circuit_digest(machine())


def test_it_is_64_hex_digits_and_differs_between_machines():
    digests = {circuit_digest(machine(name)) for name in NAMES}
    assert len(digests) == len(NAMES)
    assert all(len(digest) == 64 and int(digest, 16) >= 0 for digest in digests)
