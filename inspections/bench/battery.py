"""The battery of a machine: how long it runs the machine, what share of its rated capacity is left, and its alarm.

A run says something of a battery only if the battery was full at its start and the machine did its usual work: from a
battery that was not full nothing is judged.
"""

from .challenges import Challenge, Reason, Unmet, first_unmet
from .declarations import ChoiceSpec, Context, ResultSpec, Test
from .errors import BenchError
from .impossible import NeverAbove
from .limits import COMMON_PRACTICE, FROM_MEMORY, SEEN
from .measuring import Bench
from .propagation import propagate_measured
from .quantities import Dimension, from_si
from .readings import Sheet
from .results import Evaluation, Result
from .specs import NEVER_ON_A_PATIENT, limit, observation, reading, with_option

UNKNOWN, FULL, TIMED, PARTLY = "unknown", "full", "timed", "partly"
AT_ALARM, AT_OFF, BY_HAND = "alarm", "off", "stopped"
IN_USE, LIGHT = "in use", "light"
RATED_K = 298.15
PER_KELVIN = 0.01
"""Capacity that a lead battery lacks per kelvin below 25 °C, about. IEEE 485, temperature correction, from memory."""
MOST_ENERGY = 1.5  # share of the rated energy that no battery gives; common practice, no source
COOL_K, WARM_K = 288.15, 308.15  # outside these a remark speaks of the temperature; common practice, no source


def evaluate_battery(sheet: Sheet, context: Context) -> Evaluation:
    """Return run time, shares of the rated time and energy, and alarm of a battery. Raises BenchError."""
    bench = Bench(BATTERY, sheet, context)
    for key in ("charged_for", "charge_time"):
        if bench.choice("start") == TIMED:
            bench.value(key)
    results = [*_run(bench), *_energy(bench), *_alarm(bench)]
    bench.remarks += _at_temperature(context.temperature_k)
    return bench.finish(results)


def _run(bench: Bench) -> list[Result]:
    run, rated = bench.value("run_time", needed=True), bench.value("rated_time", nominal=True)
    if run is None:
        return []
    at_least = "; at least: stopped by hand" if bench.choice("ended") == BY_HAND else ""
    results = [bench.result("run_time", run.estimate, convention=f"from unplugging to the end of the run{at_least}")]
    if rated is None:
        return results
    if rated.value == 0:
        raise BenchError("rated_time", "Rated run time: 0 is none. Enter the time in the manufacturer's instructions.")
    share = propagate_measured(lambda took, stated: took / stated, (run, rated))
    return [*results, bench.result("time_share", share, convention=f"run time over rated time{at_least}")]


def _energy(bench: Bench) -> list[Result]:
    drawn, rated = bench.value("energy"), bench.value("rated_energy", nominal=True)
    if (drawn is None) != (rated is None):
        bench.missing.append("Both the energy drawn from the battery and its rated energy")
    if drawn is None or rated is None:
        return []
    if rated.value == 0:
        raise BenchError("rated_energy", "Rated energy: 0 is none. Enter rated charge times rated voltage.")
    if drawn.value > MOST_ENERGY * rated.value:
        raise BenchError(
            "energy", f"Energy drawn: {drawn.value / rated.value:.2g} times what the battery is rated for. Check both, "
            "and their units.",
        )  # fmt: skip
    return [bench.result("energy_share", propagate_measured(lambda e, r: e / r, (drawn, rated)))]


def _alarm(bench: Bench) -> list[Result]:
    reserve, sounded = bench.value("reserve"), bench.value("alarm_sounded")
    results = [] if reserve is None else [bench.result("reserve", reserve.estimate)]
    if sounded is None:
        return results
    if sounded.value == 0 and (bench.choice("ended") == AT_ALARM or reserve is not None):
        raise BenchError(
            "alarm_sounded", "Low-battery alarm: the run ended at it or went on after it, so it did sound. Correct the "
            "answer, the end of the run, or the reserve.",
        )  # fmt: skip
    return [bench.result("low_alarm", sounded.estimate), *results]


def _at_temperature(kelvin: float) -> list[str]:
    """Return a remark on a room so cool or warm that it changes what a battery gives."""
    if COOL_K <= kelvin <= WARM_K:
        return []
    celsius = kelvin - 273.15
    if kelvin > WARM_K:
        return [f"At {celsius:.0f} °C a battery gives its capacity but ages faster: about twice as fast for each 10 K."]
    lacking = PER_KELVIN * (RATED_K - kelvin)
    return [
        f"At {celsius:.0f} °C a lead battery gives about {lacking:.0%} less than at 25 °C, at which it is rated: a "
        "share just below the limit may be the room's."
    ]


def _was_full(bench: Bench) -> Unmet | None:
    start = bench.choice("start")
    if start == FULL:
        return None
    if start == PARTLY:
        why = "The battery was not full at the start, so the run cannot judge it: charge it fully and repeat."
        return Unmet(why, fail_stands=False)
    charged, needed = (bench.value(key) for key in ("charged_for", "charge_time"))
    if start == UNKNOWN or charged is None or needed is None:
        why = "Whether the battery was full at the start is not known, so the run cannot judge it: say how it was "
        return Unmet(f"{why}charged, or charge it fully and repeat.", Reason.NOT_KNOWN, fail_stands=False)
    if charged.value >= needed.value * (1 - 1e-9):
        return None
    hours = [from_si(one.value, "h") for one in (charged, needed)]
    why = f"It was on charge for {hours[0]:.3g} h of the {hours[1]:.3g} h that filling takes: charge it fully."
    return Unmet(why, fail_stands=False)


def _was_loaded(bench: Bench) -> Unmet | None:
    load = bench.choice("load")
    if load == IN_USE:
        return None
    if load == UNKNOWN:
        return Unmet("What the machine did during the run is not known: state the load.", Reason.NOT_KNOWN)
    all_of_it = "monitors" if "ventilator" in bench.context.lacks else "ventilator and monitors"
    return Unmet(f"The machine did less than its usual work: run it with {all_of_it} on.")


def _ran_down(bench: Bench) -> Unmet | None:
    if bench.choice("ended") == UNKNOWN:
        return Unmet("How the run ended is not known: choose it.", Reason.NOT_KNOWN, fail_stands=False)
    if bench.choice("ended") == BY_HAND:
        why = "The run was stopped by hand, so it says only how long the battery lasts at least: run it to the alarm."
        return Unmet(why, fail_stands=False)
    return None


def _lasted(bench: Bench) -> Unmet | None:
    """A run that was stopped by hand after the time demanded shows that the battery lasts as long."""
    run, least = bench.value("run_time"), bench.limit("run_time")
    if bench.choice("ended") == BY_HAND and run is not None and run.value >= least.lower_si:
        return None
    return _ran_down(bench)


_ANZCA = "ANZCA PS54, summary (secondary)"
_SHARE = "common practice: end of life at 80 % of the rated capacity"
_RUN = first_unmet(_was_full, _was_loaded, _lasted)
_RUN_DOWN = first_unmet(_was_full, _was_loaded, _ran_down)
_JUDGED = ("run_time", "time_share", "energy_share")

BATTERY = Test(
    code="battery",
    family="power",
    title="Battery reserve",
    purpose=(
        "Run the machine on its battery alone and time it. Charge the battery fully first, ventilate a test lung with "
        "the monitors on, unplug the mains and start the watch. Stop at the low-battery alarm, or let it run until the "
        "machine shuts off where the reserve after the alarm is wanted. Compare the time with that of earlier years: "
        "a battery fails by ageing, slowly at first."
    ),
    cautions=(
        NEVER_ON_A_PATIENT,
        "Charge the battery fully again at once: a battery left flat is damaged, and the machine has no reserve "
        "meanwhile.",
        "What commonly goes wrong: a charge indicator that shows full after a short charge,{ventilator| a ventilator "
        "left off,} one of two batteries dead behind the other, and a plug whose contact is poor.",
    ),
    readings=(
        reading("run_time", "Run time on the battery", Dimension.TIME, first="min", required=False, asked=True,
                judges=("run_time", "time_share")),
        reading("charged_for", "Time on charge before", Dimension.TIME, first="h", required=False, asked=True,
                judges=_JUDGED, wanted=with_option("start", TIMED), help="without a break, up to the start of the run"),
        reading("charge_time", "Time that a full charge takes", Dimension.TIME, first="h", required=False, asked=True,
                judges=_JUDGED, wanted=with_option("start", TIMED), help="by the manufacturer's instructions"),
        reading("rated_time", "Rated run time", Dimension.TIME, first="min", required=False, judges=("time_share",),
                stated=True, help="of a new battery at this load, by the manufacturer's instructions"),
        reading("reserve", "Time from the low-battery alarm until it shut off", Dimension.TIME, first="min",
                required=False, judges=("reserve",)),
        observation("alarm_sounded", "Did the low-battery alarm sound?", required=False, asked=True,
                    judges=("low_alarm",)),
        reading("energy", "Energy drawn from the battery", Dimension.ENERGY, first="Wh", required=False,
                judges=("energy_share",), help="by a battery tester, down to the manufacturer's end voltage"),
        reading("rated_energy", "Rated energy", Dimension.ENERGY, first="Wh", required=False, stated=True,
                judges=("energy_share",), help="rated charge in Ah times rated voltage"),
    ),
    tables=(),
    choices=(
        ChoiceSpec("start", "Battery at the start", (
            (UNKNOWN, "not known"), (FULL, "the charger showed it as full"), (TIMED, "on charge for a time"),
            (PARTLY, "not full")), UNKNOWN),
        ChoiceSpec("load", "Load during the run", (
            (UNKNOWN, "not known"), (IN_USE, "as in use: {ventilator|ventilator and }monitors on"),
            (LIGHT, "less: {ventilator|ventilator|monitors} off")), UNKNOWN),
        ChoiceSpec("ended", "End of the run", (
            (UNKNOWN, "not known"), (AT_ALARM, "at the low-battery alarm"),
            (AT_OFF, "when the machine shut itself off"), (BY_HAND, "stopped by hand before either")), UNKNOWN),
    ),
    rated=(),
    results=(
        ResultSpec("run_time", "Run time on the battery", Dimension.TIME, "min",
                   "from unplugging to the end of the run",
                   Challenge("a full battery at the usual load, run to the alarm or for the time demanded", _RUN),
                   needed=True),
        ResultSpec("time_share", "Share of the rated run time", Dimension.FRACTION, "%", "run time over rated time",
                   Challenge("a full battery at the usual load, run to the alarm", _RUN_DOWN)),
        ResultSpec("energy_share", "Share of the rated energy", Dimension.FRACTION, "%",
                   "energy drawn over rated energy", Challenge("a full battery at the start", _was_full)),
        ResultSpec("low_alarm", "Low-battery alarm", Dimension.OBSERVATION, "yes/no", "as heard before it shut off",
                   Challenge("run to the alarm, or until the machine shut itself off", _ran_down),
                   needed=True),
        ResultSpec("reserve", "Reserve after the alarm", Dimension.TIME, "min", "from the alarm until it shut off",
                   Challenge("the usual load", _was_loaded)),
    ),
    default_limits=(
        limit("run_time", "battery-30-min", "At least 30 min", (30, None), "min", _ANZCA, "2013", SEEN,
              note="The time in the manufacturer's instructions comes first."),
        *(limit(key, "battery-80-percent", "At least 80 % of what is rated", (80, None), "%", _SHARE, "-",
                COMMON_PRACTICE) for key in ("time_share", "energy_share")),
        limit("low_alarm", "must-be-yes", "The alarm sounds first", (1, None), "yes/no", "IEC 60601-2-13",
              "IEC 60601-2-13", FROM_MEMORY),
        limit("reserve", "reserve-5-min", "At least 5 min", (5, None), "min",
              "ISO 80601-2-12, critical care ventilators", "ISO 80601-2-12", FROM_MEMORY,
              note="No figure was found for anaesthesia machines."),
    ),
    source=f"{_ANZCA}; {_SHARE}",
    evaluate=evaluate_battery,
    pairs=(NeverAbove(("reserve", ""), ("run_time", ""), "The reserve is the last part of the run.", 0.0),),
)  # fmt: skip
