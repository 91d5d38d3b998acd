"""What a technician enters of what goes with the machine: vaporizer safety, battery, suction, connectors, room air."""

from config.demo.bench_entry import CM_H2O, Entry
from config.demo.truth import LITRE_PER_MINUTE


def vaporizer_safety(work):
    """Try the pair of positions of a rail for two, both fillers, and the vapour with one dial on and all off."""
    entries = [Entry("state", word="usual"), Entry("positions", 2.0, own=True), Entry("on_output", 0.02)]
    entries += [Entry("off_leak", 0.0), Entry("pairs", 1.0, column="first", own=True)]
    entries += [Entry("pairs", 2.0, column="second", own=True)]
    opens = "yes" if work.truth.has("bar bypassed", work.day) else "no"
    entries += [Entry("pairs", word=opens, column=column) for column in ("second_opens", "first_opens")]
    for row in (0, 1):
        entries.append(Entry("fillers", row + 1.0, row=row, column="position", own=True))
        entries += [Entry("fillers", word="yes", row=row, column=one) for one in ("accepts", "refuses", "tight")]
    return entries


def battery(work):
    """Run down a battery that was full, until the machine shuts itself off some minutes after its alarm."""
    minutes = work.rng.uniform(50, 59)
    return [
        *(Entry(key, word=word) for key, word in (("start", "full"), ("load", "in use"), ("ended", "off"))),
        Entry("run_time", 60 * minutes), Entry("rated_time", 3600.0, own=True), Entry("reserve", 600.0),
        Entry("alarm_sounded", word="yes"),
    ]  # fmt: skip


def suction(work):
    """Draw with the control at its highest; the pump leaves about a quarter of the pressure that there is."""
    depth = work.rng.uniform(0.74, 0.78) * work.truth.ambient_abs
    return [
        Entry("fully_open", word="yes"), Entry("vacuum", -depth),
        Entry("free_flow", work.rng.uniform(48, 60) * LITRE_PER_MINUTE), Entry("rise_time", 2.0),
        Entry("timed_to", -40_500.0),
    ]  # fmt: skip


def connectors(work):
    """Gauge the cones, try the fittings of three gases on each other's inlets, and pull on the outlet."""
    entries = [Entry("hose_fits", word="no"), Entry("pushed_home", word="yes")]
    gases = ("oxygen", "nitrous", "air")
    entries += [Entry(f"{one}_on_{other}", word="no") for one in gases for other in gases if one != other]
    for table, sizes in (("male", (0.022, 0.03)), ("female", (0.015, 0.022))):
        for row, size in enumerate(sizes):
            entries.append(Entry(table, size, row=row, column="size"))
            entries += [Entry(table, word="yes", row=row, column=column) for column in ("fits", "sound")]
    return [*entries, Entry("pulls", 60.0, column="force"), Entry("pulls", word="no", column="came_off")]


def exposure(work):
    """Sample beside the mouth of the person at the machine while nitrous oxide is given."""
    entries = [Entry("breathing_zone", word="yes"), Entry("gas_time", 5400.0, own=True)]
    for row, minutes in enumerate((15, 60, 15)):
        entries += [Entry("intervals", 60.0 * minutes, row=row, column="duration"),
                    Entry("intervals", work.rng.uniform(5e-6, 15e-6), row=row, column="concentration")]  # fmt: skip
    return entries


def two_bag(work):
    seen = ("flows_both_ways", "valves_move", "apl_releases", "volume_kept")
    entries = [Entry("fresh_gas", 5 * LITRE_PER_MINUTE, own=True), *(Entry(key, word="yes") for key in seen)]
    return [*entries, Entry("rest_pressure", work.rng.uniform(0.2, 1.5) * CM_H2O)]


def absorber(work):
    entries = [Entry("inspired", work.rng.uniform(0, 0.002)), Entry("expired", 0.048)]
    entries += [Entry(key, word="yes") for key in ("sealed", "colour_fresh", "bypass_shut")]
    return [*entries, Entry("through", 60 * LITRE_PER_MINUTE, column="flow"),
            Entry("through", work.rng.uniform(180, 320), column="pressure")]  # fmt: skip
