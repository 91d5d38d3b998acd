"""Ways in which what holds gas under pressure is read without having been challenged; for test_challenges.py."""

from hypothesis import strategies as st

from tests.inspections.bench.sound_closed_volumes import DOWNWARDS, UPWARDS, bulb, dial, held, high
from tests.inspections.bench.sound_sheets import figures

AT_ROOM = 20


def inlet(*points, **more):
    return high(*points, **{"volume": 500, "section": "inlet", **more})


HIGH = [
    # nitrous oxide is liquid from 4,951 kPa on at 20 °C (CoolProp 8.0.0): its pressure then shows no leak
    ("leak", figures(4850, 4950).map(lambda p: high((0, p, AT_ROOM), (6, p, AT_ROOM), gas="nitrous-oxide"))),
    ("pressure_fall", figures(4850, 4950).map(lambda p: high((0, p, AT_ROOM), (6, p, AT_ROOM), gas="nitrous-oxide"))),
    ("leak", figures(1, 276).map(lambda p: inlet((0, p, AT_ROOM), (2, p, AT_ROOM)))),
    ("pressure_fall", figures(1, 6800).map(lambda p: high((0, p, AT_ROOM), (6, p, AT_ROOM)))),
    ("leak", figures(0.01, 0.98).map(lambda t: inlet((0, 400, AT_ROOM), (t, 400, AT_ROOM)))),
    ("pressure_fall", figures(0.01, 4.9).map(lambda t: high((0, 13_000, AT_ROOM), (t, 13_000, AT_ROOM)))),
    ("leak", figures(0, 190).map(lambda p: inlet((0, 400, AT_ROOM), (60, p, AT_ROOM), volume=100))),
    # nobody read the temperature, and 2 K are 0.7 % of it: 16 mL/min in one minute
    ("leak", figures(395.1, 398.2).map(lambda p: inlet((0, 400, None), (1, p, None)))),
    ("pressure_fall", figures(12_340, 12_420).map(lambda p: high((0, 13_000, None), (5, p, None)))),
]
HELD = [
    *(("hold_fall", figures(0, 1).map(lambda fall: held(end=30 - fall, capacity="unknown"))),),
    *((key, figures(1, 26.9).map(lambda p: held(p, p))) for key in ("hold_fall", "hold_leak")),
    *((key, figures(33.1, 60).map(lambda p: held(p, p))) for key in ("hold_fall", "hold_leak")),
    *((key, figures(0.1, 9.9).map(lambda t: held(30, 30, t))) for key in ("hold_fall", "hold_leak")),
]
BULB = [
    *((key, st.sampled_from([None, 0]).map(lambda one: bulb(holds=one))) for key in ("hold_off", "hold_vaporizers")),
    *((key, st.sampled_from([None, 0]).map(lambda one: bulb(closed=one))) for key in ("hold_off", "hold_vaporizers")),
    *((key, figures(0.1, 49.9).map(lambda p: bulb(suction=-p))) for key in ("hold_off", "hold_vaporizers")),
    ("hold_off", figures(0.1, 9.9).map(lambda t: bulb((t, None), (15, None)))),
    ("hold_vaporizers", figures(0.1, 9.9).map(lambda t: bulb((15, None), (t, None)))),
    ("hold_vaporizers", st.sampled_from(["record", "2", "6"]).map(lambda count: bulb(count=count))),
    ("hold_vaporizers", st.just(bulb((15, None)))),
]
DIAL = [
    ("worst_error", st.integers(1, 2).map(lambda count: dial(UPWARDS[:count], ()))),
    ("worst_error", figures(0.31, 0.5).map(lambda low: dial(((20_000 * low, 20_000 * low), *UPWARDS[2:], UPWARDS[3])))),
    ("worst_error", st.just(dial(UPWARDS[:3]))),
    ("hysteresis", st.just(dial(UPWARDS[:3], DOWNWARDS))),
    ("hysteresis", st.just(dial(falling=()))),
    ("zero_after", st.just(dial(UPWARDS[:3], DOWNWARDS))),
]  # fmt: skip
CLOSED_VOLUMES_UNCHALLENGED = [
    (code, key, sheets)
    for code, cases in (("high-pressure-leak", HIGH), ("breathing-compliance", HELD),
                        ("negative-pressure-leak", BULB), ("pressure-gauge", DIAL))
    for key, sheets in cases
]  # fmt: skip
