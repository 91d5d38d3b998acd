"""Circuits as files, for tests that are about something else."""

from pathlib import Path

SMALL = (Path(__file__).parent / "small_circuit.toml").read_text(encoding="utf-8")
