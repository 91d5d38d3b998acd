"""The hidden state of each simulated machine: set points that drift, seals that wear, components that fail.

The bench reads it only through gauges, and nothing here asks the bench tests. Pressures are Pa gauge unless a name says
`_abs`, flows m3/s of gas at ambient pressure. All figures are invented.
"""

import random
from dataclasses import dataclass, field
from datetime import date

from config.demo.gas_flow import HEAT_RATIO, ambient_pa_abs, leak_flow, needle_flow
from config.demo.machine_circuits import TAKEN_OUT

PSI = 6894.757293168
LITRE_PER_MINUTE = 1e-3 / 60
ML_PER_MINUTE = 1e-6 / 60
PIPELINE = {
    "us": 358e3,
    "european": 438e3,
    "international": 438e3,
    "": 407e3,
}  # by the rules of the site, "": all of them
AGEING = {"norrfell-3": 3.0, "norrfell-3s": 2.2, "aldane-20": 1.5, "aldane-40": 1.2}
OUTLET_VALVE = ("norrfell-3s", "castrine-1")
LACKS = {  # safety features of which nothing is recorded, and of which a look at the machine shows that there are none
    "norrfell-3": ("yoke-filter", "main-switch", "bag-vent-selector"),
    "norrfell-3s": ("yoke-filter", "main-switch", "bag-vent-selector"),
    "aldane-20": ("yoke-filter",),
    "aldane-40": ("yoke-filter",),
    "castrine-1": ("yoke-filter",),
}
DOWNSTREAM_SHARE = 0.1  # of the leak: behind the outlet check valve, where positive pressure still shows it
LOCKUP_PA = 0.4 * PSI  # what the outlet pressure of a regulator falls by as soon as gas flows


@dataclass
class Truth:
    """One machine. `faults` maps the name of a fault to the day on which it set in."""

    kind: str
    has_ratio: bool
    ageing: float
    rng: random.Random
    new_on: date
    trip_pa: dict = field(default_factory=dict)
    hysteresis_pa: float = 1.5 * PSI
    regulator_pa: dict = field(default_factory=dict)
    droop_pa_per_m3_s: float = 0.12 * PSI / LITRE_PER_MINUTE
    leak_m3_s: float = 15 * ML_PER_MINUTE
    lowest_fraction: float = 0.28
    flush_m3_s: float = 48 * LITRE_PER_MINUTE
    analyser_error: float = 0.0
    pipeline_pa: float = 410e3
    sag_pa_at_10: float = 0.7 * PSI
    ambient_abs: float = 101_325.0
    has_outlet_valve: bool = False
    has_alarm: bool = True
    alarm_pa: float = 30 * PSI
    alarm_delay_s: float = 2.0
    vaporizer_leaks: tuple = (0.0,) * 6
    breathing_volume_m3: float = 5e-3
    lacks: tuple = ()
    electrical_rules: str = "international"
    faults: dict = field(default_factory=dict)

    def years(self, day):
        return (day - self.new_on).days / 365.25

    def has(self, fault, day):
        return fault in self.faults and self.faults[fault] <= day

    def has_any_fault(self, day):
        return any(since <= day for since in self.faults.values())

    def repair(self, day):
        """Remove all faults and reset all wear."""
        self.faults.clear()
        self.new_on = day

    def trip_at(self, gas, day):
        """Return the oxygen pressure that halves the flow of `gas`; a weak spring trips late, a stuck valve never."""
        if self.has("stuck open", day):
            return None
        weak = (30 if self.kind == "proportional" else 9) * PSI if self.has("weak spring", day) else 0
        return self.trip_pa[gas] - 0.25 * PSI * self.ageing * self.years(day) - weak

    def reset_at(self, gas, day):
        """Return the oxygen pressure at which half of the flow comes back; friction delays a shut-off valve."""
        trip = self.trip_at(gas, day)
        delay = self.hysteresis_pa if self.kind == "shut-off" else 0.0
        return None if trip is None else trip + delay

    def flow_of_other_gas(self, gas, set_flow, oxygen_pa, trip_pa):
        """Return the flow of another gas, set at full oxygen pressure, at an oxygen pressure and a trip pressure.

        A shut-off valve closes over 3 psi. A proportional one gives its needle a pressure in proportion to that of
        oxygen, and the needle passes what the absolute pressure makes of it.
        """
        if trip_pa is None:
            return set_flow
        if self.kind == "proportional":
            zero = trip_pa - 16 * PSI  # stops at about 9 psi; a weak spring moves this below zero
            before = self.pipeline_pa * (oxygen_pa - zero) / (self.pipeline_pa - zero)
            full = needle_flow(self.pipeline_pa, self.ambient_abs, HEAT_RATIO[gas])
            return set_flow * min(1.0, needle_flow(before, self.ambient_abs, HEAT_RATIO[gas]) / full)
        share = min(1.0, max(0.0, (oxygen_pa - trip_pa) / (3 * PSI) + 0.5))
        return set_flow * share * share * (3 - 2 * share)

    def pipeline_at(self, flow):
        """Return the pipeline pressure at the machine while gas flows: hose and terminal unit resist as the square."""
        return self.pipeline_pa - self.sag_pa_at_10 * (flow / (10 * LITRE_PER_MINUTE)) ** 2

    def regulator_at(self, gas, flow):
        """Return the outlet pressure of a cylinder regulator at a flow."""
        lost = LOCKUP_PA + self.droop_pa_per_m3_s * flow if flow > 0 else 0.0
        return self.regulator_pa[gas] - lost

    def leak_at(self, day, pressure=-3000.0, *, vaporizer=None):
        """Return the leak between flow controls and outlet at a pressure of the outlet, with one vaporizer on or none.

        Suction opens an outlet check valve; pressure closes it, and only what leaks behind it is left to see.
        """
        at_3_kpa = self.leak_m3_s + 2.5 * ML_PER_MINUTE * self.ageing * self.years(day)
        at_3_kpa += 110 * ML_PER_MINUTE if self.has("perished seal", day) else 0
        at_3_kpa += 0 if vaporizer is None else self.vaporizer_leaks[vaporizer]
        hidden = self.has_outlet_valve and pressure > 0
        return leak_flow(at_3_kpa * (DOWNSTREAM_SHARE if hidden else 1), pressure)

    def breathing_leak_at(self, day, pressure=3000.0):
        at_3_kpa = 45 * ML_PER_MINUTE + 3 * self.leak_m3_s + 2 * ML_PER_MINUTE * self.ageing * self.years(day)
        return leak_flow(at_3_kpa, pressure)

    def fraction_at(self, day):
        """Return the least oxygen fraction that the link of the flow controls lets through."""
        if not self.has_ratio:
            return 0.0
        return self.lowest_fraction - (0.09 if self.has("worn link", day) else 0.002 * self.ageing * self.years(day))

    def mixed(self, oxygen_set, other_set, lowest):
        """Return the oxygen flow once the link has acted on what was set: it raises oxygen to its least fraction."""
        return max(oxygen_set, other_set * lowest / (1 - lowest))

    def creep_pa_per_min(self, day):
        return (1.6 if self.has("creeping seat", day) else 0.08) * PSI


def truth_of(machine, start):
    """Return the hidden state of a machine at `start`; the same machine always gets the same state."""
    rng = random.Random(f"truth {machine.asset_number}")
    code = machine.model.code
    gases = [gas for gas in machine.model.gases if gas != "oxygen"]
    truth = Truth(
        kind="proportional" if code.startswith("aldane") else "shut-off",
        has_ratio=not code.startswith("norrfell"),
        ageing=AGEING.get(code, 0.7),
        rng=rng,
        new_on=start,
        trip_pa={gas: rng.gauss(25.2, 0.7) * PSI for gas in gases},
        hysteresis_pa=rng.uniform(0.8, 2.2) * PSI,
        regulator_pa={gas: rng.gauss(45, 0.8) * PSI for gas in machine.model.gases},
        leak_m3_s=rng.uniform(4, 14) * ML_PER_MINUTE,
        breathing_volume_m3=3.2e-3 + rng.uniform(0.8, 1.6) * 1e-3,
        lowest_fraction=rng.uniform(0.277, 0.305),
        flush_m3_s=rng.uniform(42, 60) * LITRE_PER_MINUTE,
        analyser_error=rng.gauss(0, 0.006),
        pipeline_pa=pipeline_of(machine.site, rng.choice([-6e3, -3e3, 0, 4e3, 8e3])),
    )
    _place(truth, machine)
    return truth


def pipeline_of(site, away):
    """Return the pipeline pressure at a machine; where all rules count at once, it is regulated more closely."""
    return PIPELINE[site.rule_set] + (away if site.rule_set else 0.3 * away)


def _place(truth, machine):
    """Add what depends on the site and the model; drawn apart, so that faults come by chance as they did."""
    rng = random.Random(f"place {machine.asset_number}")
    code = machine.model.code
    truth.sag_pa_at_10 = rng.uniform(0.3, 1.2) * PSI
    truth.ambient_abs = ambient_pa_abs(machine.site.altitude_m) + rng.gauss(0, 400)  # weather
    truth.has_outlet_valve = code in OUTLET_VALVE and "outlet-check-valve" not in TAKEN_OUT.get(
        machine.asset_number, ()
    )
    truth.lacks = LACKS.get(code, ())
    truth.electrical_rules = "us" if machine.site.rule_set == "us" else "international"
    truth.has_alarm = code != "norrfell-3"
    truth.alarm_pa = rng.gauss(30, 0.6) * PSI
    truth.alarm_delay_s = rng.uniform(0.8, 2.6)
    truth.vaporizer_leaks = tuple(rng.uniform(0, 2) * ML_PER_MINUTE for _ in range(6))


FAULTS = {
    "weak spring": "o2-failure-protection",
    "stuck open": "o2-failure-protection",
    "perished seal": None,
    "worn link": "ratio-protection",
    "creeping seat": None,
    "silent alarm": "o2-supply-alarm",
    "bar bypassed": "vaporizer-exclusion",
    "loose outlet": "outlet-retention",
}


def draw_fault(truth, day, *, is_late=False):
    """Let a fault begin by chance, more often in an ageing design. Return its name or None."""
    if truth.rng.random() > 0.09 * truth.ageing * (2.5 if is_late else 1):
        return None
    fault = truth.rng.choice(list(FAULTS))
    truth.faults.setdefault(fault, day)
    return fault
