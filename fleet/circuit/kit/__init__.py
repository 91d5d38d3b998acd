"""The kit: the circuit of a machine from ticks and a few choices, and the kinds of machine that start from them.

Choices, blocks and kinds are data (TOML). Plain Python.
"""

from fleet.circuit.kit.building import CHOICES, Choice, build_circuit, circuit_file, whole_choices
from fleet.circuit.kit.kinds import MACHINE_KINDS, MachineKind, ModelStart, start_of

__all__ = [
    "CHOICES",
    "MACHINE_KINDS",
    "Choice",
    "MachineKind",
    "ModelStart",
    "build_circuit",
    "circuit_file",
    "start_of",
    "whole_choices",
]
