"""Measurements, run by `make bench`: every module bench_*.py here, none of which pytest collects."""
