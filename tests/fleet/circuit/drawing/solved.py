"""Solved circuits of the demonstration, each worked out once."""

from functools import cache
from pathlib import Path

from fleet.circuit.files import read_circuit
from fleet.circuit.solver import solve
from fleet.circuit.usual_states import states_to_show

CIRCUITS = Path(__file__).resolve().parents[4] / "config" / "demo" / "circuits"


@cache
def circuit(name):
    return read_circuit((CIRCUITS / f"{name}.toml").read_text(encoding="utf-8"))


@cache
def state(name, code):
    return {one.code: one for one in states_to_show(circuit(name))}[code]


@cache
def solved(name, code="ordinary", *faults):
    return solve(circuit(name), state(name, code), faults)
