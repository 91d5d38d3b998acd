"""What a simulated technician does with cylinders, gauges and closed volumes: it fills, waits, reads and weighs.

The figures are of parts in good order, worked out from the volumes named here; all are invented.
"""

from config.demo.bench_entry import Entry, settled
from config.demo.gas_flow import SEA_LEVEL_PA_ABS
from config.demo.truth import LITRE_PER_MINUTE, ML_PER_MINUTE
from inspections.at_bench.evaluation import vaporizers_of
from inspections.bench import to_si

CM_H2O = 98.0665
HOSE_M3 = 120e-6
ROOM_K = 294.0
YOKE_CYLINDER_M3 = 4.7e-3
GAUGE_PA = 20e6
BAG_M3_PER_PA = 20e-6 / CM_H2O


def cylinder_content(work):
    """Read a full yoke cylinder of oxygen, and what is drawn from it."""
    return [
        Entry("pressure", work.rng.uniform(11e6, 13e6)),
        Entry("water_capacity", YOKE_CYLINDER_M3, own=True),
        Entry("gas_temperature", ROOM_K),
        Entry("flow", 2 * LITRE_PER_MINUTE, own=True),
    ]


def pressure_gauge(work):
    """Take a gauge up and down beside a reference; its needle lags a little on the way down."""
    scale = _full_scale(work)
    entries, off = [Entry("full_scale", scale, own=True)], work.rng.uniform(-0.005, 0.005) * scale
    for table, shares, lag in (("rising", (0.1, 0.5, 0.8, 0.95), 0.0), ("falling", (0.8, 0.5, 0.1), 0.003)):
        for row, share in enumerate(shares):
            true = share * scale
            entries += [
                Entry(table, true, row=row, column="reference"),
                Entry(table, true + off + lag * scale, row=row, column="shown", own=True),
            ]
    return [*entries, Entry("zero_after", max(0.0, off), own=True)]


def _full_scale(work):
    """Return the full scale of the gauge on its plate, Pa; that of a cylinder gauge where there is none."""
    stated = work.step.component.rated.get("full_scale")
    return to_si(*stated) if stated else GAUGE_PA


def high_pressure_leak(work):
    """Shut a section off at both ends and watch its pressure for ten minutes at a steady temperature."""
    section = settled(work, "section", "inlet")
    lost = work.rng.uniform(1, 8) * ML_PER_MINUTE * SEA_LEVEL_PA_ABS / HOSE_M3
    entries, start = [Entry("section", word=section)], work.truth.pipeline_pa
    if section == "cylinder":
        start, lost = (4.5e6 if work.step.component.gas == "nitrous-oxide" else 12e6), 400.0
    else:
        entries += [Entry("volume", HOSE_M3), Entry("volume_within", 15e-6, own=True)]
    for row, minute in enumerate((0, 5, 10)):
        entries += [
            Entry("decay", 60.0 * minute, row=row, column="time"),
            Entry("decay", start - lost * 60 * minute, row=row, column="pressure"),
            Entry("decay", ROOM_K, row=row, column="temperature"),
        ]
    return entries


def negative_pressure_leak(work):
    """Squeeze the bulb flat with every vaporizer off, then with each on in turn, and watch it for 15 s."""
    entries = [Entry("bulb_holds", word="yes"), Entry("controls_closed", word="yes")]
    for row in range(1 + vaporizers_of(work.step.inspection.machine, work.day)):
        entries += [
            Entry("positions", work.rng.uniform(14, 17), row=row, column="watched"),
            Entry("positions", -64 * CM_H2O, row=row, column="suction"),
        ]
    return entries


def breathing_compliance(work):
    """Inject 200 mL into the closed system with its bag on, then watch it from 30 cmH2O on for 20 s."""
    capacity = work.truth.breathing_volume_m3 / work.truth.ambient_abs + BAG_M3_PER_PA
    lost = work.truth.breathing_leak_at(work.day) / capacity * 20
    return [
        Entry("injected_volume", 200e-6),
        Entry("injected_before", 0.0),
        Entry("injected_after", 200e-6 / capacity),
        Entry("rigid_volume", work.truth.breathing_volume_m3),
        Entry("hold_start", 30 * CM_H2O),
        Entry("hold_end", 30 * CM_H2O - lost),
        Entry("hold_time", 20.0),
    ]


WORK = {
    "cylinder-content": cylinder_content,
    "pressure-gauge": pressure_gauge,
    "high-pressure-leak": high_pressure_leak,
    "negative-pressure-leak": negative_pressure_leak,
    "breathing-compliance": breathing_compliance,
}
