"""Sound sheets of what goes with the machine: vaporizer safety, battery, suction, connectors, room air, absorber.

Also the ways in which the challenge of each result is taken away.
"""

from dataclasses import replace
from itertools import combinations, permutations

from hypothesis import strategies as st

from tests.inspections.bench.making import flow, pressure, rows, sheet


def _figures(lowest, highest):
    return st.floats(lowest, highest).map(lambda number: round(number, 4))


def yes(value=1):
    return flow(value, "yes/no")


def number(value):
    return flow(value, "no.")


def percent(value):
    return flow(value, "%")


def minutes(value):
    return flow(value, "min")


def _taken(**readings):
    return {key: one for key, one in readings.items() if one is not None}


PAIR = {"first": number, "second": number, "second_opens": yes, "first_opens": yes}
FILLER = {"position": number, "accepts": yes, "refuses": yes, "tight": yes}


TWO_FILLERS = ((1, 1, 1, 1), (2, 1, 1, 1))


def vaporizer_safety(count=3, tried=None, fillers=TWO_FILLERS, on=2.0, off=0.01, state="usual", **purge):
    """A rail: rows of (position, position, second opens, first opens), fillers by position; vapour in percent."""
    tried = [(*pair, 0, 0) for pair in combinations(range(1, count + 1), 2)] if tried is None else tried
    on = on if on is None else percent(on)
    values = _taken(positions=number(count), on_output=on, off_leak=percent(off), **purge)
    return sheet(values, {"pairs": rows(PAIR, *tried), "fillers": rows(FILLER, *fillers)}, state=state)


PURGED = {"purge_time": minutes(40), "purge_flow": flow(8), "drained": yes()}


def battery(run=45, rated=50, start="full", load="in use", ended="off", **changed):
    """A run of so many minutes; a reading of None is left out."""
    usual = {"run_time": minutes(run), "rated_time": minutes(rated), "reserve": minutes(9), "energy": flow(90, "Wh"),
             "rated_energy": flow(100, "Wh"), "alarm_sounded": yes()}  # fmt: skip
    return sheet(_taken(**{**usual, **changed}), start=start, load=load, ended=ended)


ON_CHARGE = {"charged_for": flow(12, "h"), "charge_time": flow(10, "h")}


def kilopascals(value):
    return pressure(value, "kPa")


def suction(vacuum=-60, drawn=45, rise=2, timed=-40, opened=1, **choices):
    """Suction of a theatre: vacuum in kPa gauge, free air in L/min; None for what was not read."""
    values = _taken(
        fully_open=opened if opened is None else yes(opened), vacuum=kilopascals(vacuum), free_flow=flow(drawn),
        rise_time=flow(rise, "s"), timed_to=timed if timed is None else kilopascals(timed),
    )  # fmt: skip
    return sheet(values, **choices)


def millimetres(value):
    return flow(value, "mm")


def newtons(value):
    return flow(value, "N")


CONE = {"size": millimetres, "fits": yes, "sound": yes}
MALE, FEMALE = ((22, 1, 1), (30, 1, 1)), ((15, 1, 1), (22, 1, 1))
CROSSINGS = [f"{one}_on_{other}" for one, other in permutations(("oxygen", "nitrous", "air"), 2)]


def connectors(male=MALE, female=FEMALE, pulls=((50, 0), (75, 1)), hose=0, pushed=1, crossed=None, **choices):
    """Cones as (size in mm, fits, sound), pulls as (force in N, came off)."""
    crossed = {key: yes(0) for key in CROSSINGS} if crossed is None else crossed
    values = _taken(hose_fits=yes(hose), pushed_home=pushed if pushed is None else yes(pushed), **crossed)
    tables = {"male": rows(CONE, *male), "female": rows(CONE, *female),
              "pulls": rows({"force": newtons, "came_off": yes}, *pulls)}  # fmt: skip
    return sheet(values, tables, **choices)


def ppm(value):
    return flow(value, "ppm")


def exposure(*intervals, gas="nitrous_oxide", gas_time=None, zone=1, **choices):
    """Intervals of (minutes, ppm); gas is given for as long as was sampled unless another time is named."""
    intervals = intervals or ((30, 12), (90, 9))
    given = sum(one for one, _ in intervals) if gas_time is None else gas_time
    values = _taken(breathing_zone=zone if zone is None else yes(zone), gas_time=minutes(given) if given else None)
    table = rows({"duration": minutes, "concentration": ppm}, *intervals)
    return sheet(values, {"intervals": table}, gas=gas, **choices)


BAGS = ("flows_both_ways", "valves_move", "apl_releases", "volume_kept")


def two_bag(fresh=5, rest=1.0, **changed):
    answers = {key: yes() for key in BAGS} | changed
    rest = pressure(rest, "cmH2O")
    return sheet(_taken(fresh_gas=fresh if fresh is None else flow(fresh), rest_pressure=rest, **answers))


def absorber(inspired=0.1, expired=5.0, through=((60, 2.5),), **choices):
    """An absorber: carbon dioxide in percent, pressures in cmH2O at L/min."""
    values = _taken(
        inspired=percent(inspired), expired=expired if expired is None else percent(expired), sealed=yes(),
        colour_fresh=yes(), bypass_shut=yes(), age=flow(10, "d"),
    )  # fmt: skip
    columns = {"flow": flow, "pressure": lambda value: pressure(value, "cmH2O")}
    return sheet(values, {"through": rows(columns, *through)}, **choices)


SOUND_ACCESSORIES = {
    "vaporizer-safety": (vaporizer_safety(), None),
    "vaporizer-safety, purged": (vaporizer_safety(state="tipped", **{**PURGED, "drained": None}), None),
    "vaporizer-safety, other agent": (vaporizer_safety(state="other agent", **PURGED), None),
    "battery": (battery(), None),
    "battery, timed charge": (battery(start="timed", ended="alarm", **ON_CHARGE), None),
    "suction": (suction(), None),
    "suction, high vacuum": (suction(-70, 30, kind="high"), None),
    "connectors": (connectors(), None),
    "exposure": (exposure(), None),
    **{f"exposure, {gas}": (exposure((60, 0.3), (45, 0.2), gas=gas), None)
       for gas in ("isoflurane", "enflurane", "halothane", "other")},
    "exposure, alone": (exposure((60, 1.2), (60, 0.9), gas="isoflurane", with_nitrous="no"), None),
    "two-bag": (two_bag(), None),
    "absorber": (absorber(), None),
    "absorber, lower flows": (absorber(through=((20, 0.6), (40, 1.5)), bypass="fitted"), None),
}  # fmt: skip
FILLED_ACCESSORIES = {
    "vaporizer-safety": vaporizer_safety(**PURGED),
    "battery": battery(**ON_CHARGE),
    "suction": suction(),
    "connectors": connectors(),
    "exposure": exposure((60, 0.3), (45, 0.2)),
    "two-bag": two_bag(),
    "absorber": absorber(),
}

_SAFETY = ("exclusion", "filler_accepts", "filler_refuses", "filler_tight", "off_leak")
_SHIFTS = {f"shift_{gas}": gas for gas in ("nitrous_oxide", "isoflurane", "enflurane", "halothane")}
_EXPOSED = [("case_average", "nitrous_oxide", "yes"), *((key, gas, "yes") for key, gas in _SHIFTS.items()),
            ("ceiling", "other", "no"), ("ceiling_mixed", "other", "yes")]  # fmt: skip
_NOT_FULL = st.sampled_from(["unknown", "partly"])
_SHORT = _figures(0, 9.99).map(lambda hours: battery(start="timed", **{**ON_CHARGE, "charged_for": flow(hours, "h")}))
_UNOPENED = st.sampled_from([None, 0])
UNCHALLENGED_ACCESSORIES = [
    *(("vaporizer-safety", key, st.just(vaporizer_safety(state=state, **purge)))
      for key in _SAFETY for state, purge in (
          ("unknown", {}), ("tipped", {}), ("other agent", {**PURGED, "drained": None}),
          ("other agent", {**PURGED, "drained": yes(0)}))),
    *(("vaporizer-safety", key, _figures(0, 29.9).map(
        lambda time: vaporizer_safety(state="tipped", purge_time=minutes(time), purge_flow=flow(8))))
      for key in _SAFETY),
    *(("vaporizer-safety", key, _figures(0, 4.9).map(
        lambda drawn: vaporizer_safety(state="tipped", purge_time=minutes(40), purge_flow=flow(drawn))))
      for key in _SAFETY),
    ("vaporizer-safety", "exclusion", st.sampled_from(range(2, 6)).flatmap(lambda count: st.sampled_from(
        list(combinations(range(1, count + 1), 2))).map(lambda left: vaporizer_safety(count, [
            (*pair, 0, 0) for pair in combinations(range(1, count + 1), 2) if pair != left])))),
    ("vaporizer-safety", "exclusion", st.just(vaporizer_safety(2)).map(lambda one: replace(
        one, values={key: read for key, read in one.values.items() if key != "positions"}))),
    ("vaporizer-safety", "off_leak", (st.none() | st.just(0.01)).map(lambda on: vaporizer_safety(on=on, off=0.01))),
    *(("battery", key, _NOT_FULL.map(lambda start: battery(start=start)))
      for key in ("run_time", "time_share", "energy_share")),
    *(("battery", key, _SHORT) for key in ("run_time", "time_share", "energy_share")),
    *(("battery", key, st.just(battery(start="timed"))) for key in ("run_time", "time_share", "energy_share")),
    *(("battery", key, st.sampled_from(["unknown", "light"]).map(lambda load: battery(load=load)))
      for key in ("run_time", "time_share", "reserve")),
    ("battery", "run_time", st.just(battery(ended="unknown"))),
    ("battery", "run_time", _figures(0, 29.9).map(lambda run: battery(run, ended="stopped"))),
    *(("battery", key, st.sampled_from(["unknown", "stopped"]).map(lambda ended: battery(ended=ended)))
      for key in ("time_share", "low_alarm")),
    *(("suction", key, _UNOPENED.map(lambda opened: suction(opened=opened)))
      for key in ("vacuum", "vacuum_share", "free_flow", "rise_time")),
    ("suction", "rise_time", (st.none() | _figures(-37.9, 0)).map(lambda timed: suction(timed=timed))),
    ("connectors", "cones", st.sampled_from([((15, 1, 1), (22, 1, 1)), ((22, 1, 1), (30, 1, 1)), ((30, 1, 1),)]).map(
        lambda male: connectors(male, ()))),
    ("connectors", "hose_fits", st.just(connectors(((15, 1, 1), (22, 1, 1))))),
    ("connectors", "crossings", st.sampled_from(CROSSINGS).map(
        lambda left: connectors(crossed={key: yes(0) for key in CROSSINGS if key != left}))),
    ("connectors", "retention", _figures(0, 49.9).map(lambda force: connectors(pulls=((force, 0), (60, 0))))),
    ("connectors", "retention", _UNOPENED.map(lambda pushed: connectors(pushed=pushed))),
    *(("exposure", key, sheets) for key, gas, mixed in _EXPOSED for sheets in (
        _UNOPENED.map(lambda zone, gas=gas, mixed=mixed: exposure((60, 0.1), gas=gas, zone=zone, with_nitrous=mixed)),
        (st.just(0) | _figures(66.8, 900)).map(lambda given, gas=gas, mixed=mixed: exposure(
            (60, 0.1), gas=gas, gas_time=given, with_nitrous=mixed)))),
    *(("two-bag", key, (st.none() | _figures(0, 4.4) | _figures(10.1, 40)).map(lambda fresh: two_bag(fresh)))
      for key in (*BAGS, "rest_pressure")),
    *(("two-bag", key, st.sampled_from([None, yes(0)]).map(lambda moved: two_bag(flows_both_ways=moved)))
      for key in BAGS),
    ("absorber", "inspired", (st.none() | _figures(0.2, 3.9)).map(lambda expired: absorber(expired=expired))),
    ("absorber", "resistance", _figures(2.3, 3).map(lambda n: absorber(through=((5, 0.1), (20, 0.1 * 4**n))))),
]  # fmt: skip
