"""Where two cover tables differ."""

from collections.abc import Mapping
from dataclasses import fields, is_dataclass

from fleet.circuit.structure import STANDARD_PA_ABS

EXACTLY = 1e-9
SCALES = {"pa": STANDARD_PA_ABS, "m3": 1 / 60_000, "": 1.0}  # of pressures, of flows (1 L/min), of fractions


def scale_of(name):
    return next(scale for unit, scale in SCALES.items() if f"_{unit}" in f"_{name}")


def differences(one, other, name=""):
    """Yield where two tables differ: in anything but numbers, or in a number by more than 1e-9 of its scale."""
    if is_dataclass(one):
        for field in fields(one):
            yield from differences(getattr(one, field.name), getattr(other, field.name), field.name)
    elif isinstance(one, Mapping):
        assert one.keys() == other.keys(), name
        for key in one:
            yield from differences(one[key], other[key], name)
    elif isinstance(one, tuple) and isinstance(other, tuple) and len(one) == len(other):
        for each, its_like in zip(one, other, strict=True):
            yield from differences(each, its_like, name)
    elif isinstance(one, float) and isinstance(other, float):
        if abs(one - other) > EXACTLY * max(scale_of(name), abs(one)):
            yield name, one, other
    elif one != other:
        yield name, one, other
