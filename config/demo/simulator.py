"""The readings that a technician takes in each test of a simulated machine, with the gauges of the site."""

import random
from dataclasses import dataclass

from config.demo.truth import LITRE_PER_MINUTE, ML_PER_MINUTE, PSI
from inspections.at_bench.evaluation import vaporizers_of
from inspections.at_bench.slots import find_slot
from inspections.bench import from_si, si_factor, to_si
from inspections.bench.needle import needle_share

SET_FLOW = 4 * LITRE_PER_MINUTE
TEST_PRESSURE_PA = 3000.0
AMBIENT_PA = 101_325.0


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing to enter: a number in SI, or a word for a choice or a yes/no item. `own` = the machine's own gauge."""

    field: str
    value: float | None = None
    word: str = ""
    row: int = 0
    column: str = ""
    own: bool = False


class Simulator:
    """Reads simulated machines with the instruments of one site; `day` decides wear and faults."""

    def __init__(self, instruments, seed):
        self.scales = [(i, scale) for i in instruments for scale in i.scales.all()]
        self.rng = random.Random(f"bench {seed}")

    def entries(self, step, truth, day):
        """Return every entry that the step asks for, in the order of work."""
        return getattr(self, f"_{step.test_code.replace('-', '_')}")(step, truth, day)

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
        step_si = scale.resolution * si_factor(scale.unit)
        error = self.rng.gauss(self._bias(instrument, scale), 0.15) * self._accuracy_si(scale, entry.value)
        error = 0.0 if slot.dimension == "time" else error
        shown = from_si(round((entry.value + error) / step_si) * step_si, unit)
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

    def _pipeline_supply(self, step, truth, day):
        sag = self.rng.uniform(0.3, 1.2) * PSI
        return [
            Entry("pressure", truth.pipeline_pa),
            Entry("flowing_pressure", truth.pipeline_pa - sag),
            Entry("flow", 10 * LITRE_PER_MINUTE, own=True),
        ]

    def _supply_failure(self, step, truth, day):
        trip = truth.trip_at(step.subject, day)
        start = [Entry("full_pressure", truth.pipeline_pa), Entry("set_flow", SET_FLOW)]
        entries = [Entry("kind", word=truth.kind), *start]
        entries += self._sweep("falling", truth, trip, [45, 35, 29, 27, 26, 25, 24, 22, 18, 10, 5, 0])
        reset = trip + truth.hysteresis_pa if trip else None
        full = truth.pipeline_pa / PSI
        return entries + self._sweep("rising", truth, reset, [5, 15, 20, 24, 26, 28, 30, 34, 42, full])

    def _sweep(self, table, truth, trip, pressures_psi):
        entries = []
        for row, psi in enumerate(pressures_psi):
            pressure = psi * PSI
            flow = flow_of_other_gas(truth, pressure, trip)
            entries += [Entry(table, pressure, row=row, column="pressure"), Entry(table, flow, row=row, column="flow")]
        return entries

    def _regulator(self, step, truth, day):
        static = truth.regulator_pa[step.component.gas]
        droop = truth.droop_pa_per_m3_s
        entries = [Entry("static_pressure", static), Entry("inlet_pressure", 1700 * PSI)]
        for row, litres in enumerate((2, 5, 8, 11)):
            flow = litres * LITRE_PER_MINUTE
            entries += [
                Entry("flowing", flow, row=row, column="flow"),
                Entry("flowing", static - droop * flow, row=row, column="pressure"),
            ]
        for row, minute in enumerate((0, 1, 3, 5)):
            creep = truth.creep_pa_per_min(day) * minute
            entries += [
                Entry("creep", 60.0 * minute, row=row, column="time"),
                Entry("creep", static + creep, row=row, column="pressure"),
            ]
        flowing = truth.pipeline_pa - self.rng.uniform(0.3, 1.2) * PSI
        return [
            *entries,
            Entry("pipeline_pressure", truth.pipeline_pa),
            Entry("pipeline_flowing_pressure", flowing),
        ]

    def _low_pressure_leak(self, step, truth, day):
        """Draw suction at the outlet, vaporizers off and then each in turn: positive pressure would hide leaks."""
        leak = truth.leak_at(day)
        entries = [*_made_up(leak, -TEST_PRESSURE_PA)]
        for row in range(vaporizers_of(step.inspection.machine, day)):
            more = self.rng.uniform(0, 2) * ML_PER_MINUTE
            entries += [
                Entry("vaporizers", leak + more, row=row, column="flow"),
                Entry("vaporizers", -TEST_PRESSURE_PA, row=row, column="pressure"),
            ]
        return entries

    def _breathing_system_leak(self, step, truth, day):
        return _made_up(truth.breathing_leak_at(day), TEST_PRESSURE_PA)

    def _oxygen_mixture(self, step, truth, day):
        lowest = truth.fraction_at(day)
        entries = [Entry("other_gas", word="nitrous oxide")]
        for row, litres in enumerate((1, 2, 4, 6)):
            other = litres * LITRE_PER_MINUTE
            fraction = min(1, lowest + self.rng.uniform(0, 0.012))
            oxygen = other * fraction / (1 - fraction)
            entries += [
                Entry("grid", other * 0.1, row=row, column="oxygen_set", own=True),
                Entry("grid", other, row=row, column="other_set", own=True),
                Entry("grid", oxygen, row=row, column="oxygen_flow"),
                Entry("grid", other, row=row, column="other_flow"),
                Entry("grid", fraction, row=row, column="oxygen_fraction"),
            ]
        stops = 0.0 if truth.has_ratio and not truth.has("worn link", day) else 0.6 * LITRE_PER_MINUTE
        offered = Entry("oxygen_off_set", SET_FLOW, own=True)
        return [*entries, Entry("oxygen_off_flow", stops), offered, Entry("control_moves", word="yes")]

    def _oxygen_flush(self, step, truth, day):
        return [Entry("method", word="direct"), Entry("flow", truth.flush_m3_s), Entry("stops_on_release", word="yes")]

    def _oxygen_analyser(self, step, truth, day):
        drift = truth.analyser_error + self.rng.gauss(0, 0.002)
        return [
            Entry("air_reading", 0.2095 + drift, own=True),
            Entry("flush_reading", min(1.0, 0.985 + drift), own=True),
            Entry("low_alarm_works", word="yes"),
        ]

    def _observation(self, step, truth, day):
        faults = {"oxygen-alarm": "silent alarm", "exclusion": "bar bypassed", "outlet-retention": "loose outlet"}
        fault = faults.get(step.code)
        return [Entry("seen", word="no" if fault and truth.has(fault, day) else "yes")]


def _made_up(leak, pressure):
    return [
        Entry("method", word="make-up"),
        Entry("at", word="3 kPa"),
        Entry("makeup_flow", leak),
        Entry("makeup_pressure", pressure),
    ]


def flow_of_other_gas(truth, oxygen_pa, trip_pa):
    """Return the flow of the other gas, m3/s, at an oxygen pressure: cut off smoothly, or in proportion."""
    if trip_pa is None:
        return SET_FLOW
    if truth.kind == "proportional":
        zero = trip_pa - 16 * PSI  # stops at about 9 psi; a weak spring moves this below zero
        outlet = truth.pipeline_pa * (oxygen_pa - zero) / (truth.pipeline_pa - zero)
        return SET_FLOW * min(1.0, needle_share(outlet, truth.pipeline_pa, AMBIENT_PA))
    share = min(1.0, max(0.0, (oxygen_pa - trip_pa) / (3 * PSI) + 0.5))
    return SET_FLOW * share * share * (3 - 2 * share)


def _plain(value):
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
