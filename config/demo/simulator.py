"""What the gauges of a site show of a simulated machine: with their own errors and resolutions."""

import random

from config.demo.bench_work import BenchWork
from inspections.at_bench.slots import find_slot, fixed_choices
from inspections.at_bench.step_content import test_of
from inspections.bench import from_si, get_test, si_factor, to_si

DECAY_SITES = ("pell-bridge",)  # where the breathing system is tested by the fall of its pressure


class Simulator:
    """Reads simulated machines with the instruments of one site; `day` decides wear and faults."""

    def __init__(self, instruments, site_code):
        self.scales = [(i, scale) for i in instruments for scale in i.scales.all()]
        self.rng = random.Random(f"bench {site_code}")
        self.decays = site_code in DECAY_SITES

    def entries(self, step, truth, day, habit=""):
        """Return every entry that the step asks for on this machine, in the order of work."""
        settled = fixed_choices(step).keys() | (_fields(get_test(step.test_code)) - _fields(test_of(step)))
        entries = BenchWork(step, truth, day, habit, self.rng, self.decays).entries()
        return [entry for entry in entries if entry.field not in settled]

    def read(self, step, entry):
        """Return the arguments of `entry_at`: what a gauge of the site shows, with its error and resolution."""
        place = {"field": entry.field, "row": entry.row, "column": entry.column}
        slot = find_slot(step, **place)
        if entry.word:
            return {**place, "as_read": entry.word, "unit": "yes/no" if slot.dimension == "observation" else ""}
        if entry.own:
            unit = slot.units[0]
            return {**place, "as_read": f"{from_si(entry.value, unit):.1f}", "unit": unit}
        instrument, scale = self._gauge_for(slot, entry.value)
        unit = scale.unit if scale.unit in slot.units else slot.units[0]
        error = self.rng.gauss(self._bias(instrument, scale), 0.15) * self._accuracy_si(scale, entry.value)
        error = 0.0 if slot.dimension == "time" else error
        read = max(entry.value + error, 0.0) if slot.dimension == "fraction" else entry.value + error
        pointer = from_si(read, scale.unit)
        shown = from_si(to_si(round(pointer / scale.resolution) * scale.resolution, scale.unit), unit)
        return {**place, "as_read": _plain(shown), "unit": unit, "instrument": instrument}

    def _gauge_for(self, slot, value):
        fitting = [
            (i, s)
            for i, s in self.scales
            if s.dimension == slot.dimension and to_si(s.low, s.unit) <= value <= to_si(s.high, s.unit)
        ]
        return min(fitting, key=lambda pair: pair[1].high * si_factor(pair[1].unit))

    def _bias(self, instrument, scale):
        return random.Random(f"{instrument.code} {scale.dimension}").uniform(-0.4, 0.4)

    def _accuracy_si(self, scale, value):
        factor = si_factor(scale.unit)
        span = (scale.high - scale.low) * factor
        return (
            scale.of_reading_percent / 100 * abs(value) + scale.of_span_percent / 100 * span + scale.absolute * factor
        )


def _fields(test):
    return {spec.key for spec in (*test.readings, *test.tables, *test.choices)}


def _plain(value):
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
