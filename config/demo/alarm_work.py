"""What a technician does with the alarms of a simulated machine: gives each its cause, and times it."""

from config.demo.bench_entry import CM_H2O, Entry, settled

TRIALS = {  # what is set, how far from it the alarm sounds, and the longest delay in s
    "low-oxygen": ((0.25, 0.3), -0.003, 6),
    "high-pressure": ((30 * CM_H2O, 45 * CM_H2O), 0.6 * CM_H2O, 1.5),
    "continuing-pressure": ((15 * CM_H2O, 25 * CM_H2O), 0.4 * CM_H2O, 14),
}


def alarms(work):
    """Change the value slowly until the alarm sounds, at two settings; of a disconnection take the hose off."""
    alarm = settled(work, "alarm", "low-oxygen")
    if alarm == "disconnection":
        return [*_disconnection(work), Entry("returns", word="yes")]
    table, (levels, off, longest) = f"{alarm.replace('-', '_')}_trials", TRIALS[alarm]
    entries = []
    for row, level in enumerate(levels):
        entries += [
            Entry(table, level, row=row, column="set", own=True),
            Entry(table, level + off, row=row, column="sounded", own=alarm == "low-oxygen"),
            Entry(table, work.rng.uniform(0.3, 1) * longest, row=row, column="delay"),
        ]
    return [Entry("sounds", word="yes"), *entries, Entry("returns", word="yes")]


def _disconnection(work):
    """The hose off at both ends: bellows that hang and a piston go on moving at one of them."""
    entries = [Entry("drive", word="hanging bellows"), Entry("lowest_setting", word="yes")]
    for end in ("patient_end", "machine_end"):
        entries += [Entry(f"{end}_sounds", word="yes"), Entry(f"{end}_delay", work.rng.uniform(8, 20))]
    return entries
