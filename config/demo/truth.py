"""The hidden state of each simulated machine: set points that drift, seals that wear, components that fail.

The bench reads it only through gauges. Pressures are Pa gauge, flows m3/s. All figures are invented.
"""

import random
from dataclasses import dataclass, field
from datetime import date

PSI = 6894.757293168
LITRE_PER_MINUTE = 1e-3 / 60
ML_PER_MINUTE = 1e-6 / 60
PIPELINE_ABOVE = {"european": 80e3, "international": 80e3}  # Pa above 50 psi: a pipeline of 400 to 500 kPa
AGEING = {"norrfell-3": 3.0, "norrfell-3s": 2.2, "aldane-20": 1.5, "aldane-40": 1.2}


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
    volume_m3: float = 1.1e-3
    lowest_fraction: float = 0.28
    flush_m3_s: float = 48 * LITRE_PER_MINUTE
    analyser_error: float = 0.0
    pipeline_pa: float = 410e3
    faults: dict = field(default_factory=dict)

    def years(self, day):
        return (day - self.new_on).days / 365.25

    def has(self, fault, day):
        return fault in self.faults and self.faults[fault] <= day

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

    def leak_at(self, day):
        return (
            self.leak_m3_s
            + 2.5 * ML_PER_MINUTE * self.ageing * self.years(day)
            + (110 * ML_PER_MINUTE if self.has("perished seal", day) else 0)
        )

    def breathing_leak_at(self, day):
        return 45 * ML_PER_MINUTE + 3 * self.leak_m3_s + 2 * ML_PER_MINUTE * self.ageing * self.years(day)

    def fraction_at(self, day):
        if not self.has_ratio:
            return 0.0
        return self.lowest_fraction - (0.09 if self.has("worn link", day) else 0.002 * self.ageing * self.years(day))

    def creep_pa_per_min(self, day):
        return (1.6 if self.has("creeping seat", day) else 0.08) * PSI


def truth_of(machine, start):
    """Return the hidden state of a machine at `start`; the same machine always gets the same state."""
    rng = random.Random(f"truth {machine.asset_number}")
    code = machine.model.code
    gases = [gas for gas in machine.model.gases if gas != "oxygen"]
    return Truth(
        kind="proportional" if code.startswith("aldane") else "shut-off",
        has_ratio=not code.startswith("norrfell"),
        ageing=AGEING.get(code, 0.7),
        rng=rng,
        new_on=start,
        trip_pa={gas: rng.gauss(25.2, 0.7) * PSI for gas in gases},
        hysteresis_pa=rng.uniform(0.8, 2.2) * PSI,
        regulator_pa={gas: rng.gauss(45, 0.8) * PSI for gas in machine.model.gases},
        leak_m3_s=rng.uniform(4, 14) * ML_PER_MINUTE,
        volume_m3=rng.uniform(0.8, 1.6) * 1e-3,
        lowest_fraction=rng.uniform(0.277, 0.305),
        flush_m3_s=rng.uniform(42, 60) * LITRE_PER_MINUTE,
        analyser_error=rng.gauss(0, 0.006),
        pipeline_pa=rng.choice([352e3, 355e3, 358e3, 362e3, 366e3]) + PIPELINE_ABOVE.get(machine.site.rule_set, 0),
    )


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
    if truth.rng.random() > 0.09 * truth.ageing * (3 if is_late else 1):
        return None
    fault = truth.rng.choice(list(FAULTS))
    truth.faults.setdefault(fault, day)
    return fault
