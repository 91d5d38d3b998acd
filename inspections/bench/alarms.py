"""Alarms: whether each sounds when it should, where, and how late; the disconnection by what drives the breath.

A hanging bellows falls by its weight and refills with room air when a hose comes off, and a piston draws in room air:
both go on moving, and an alarm set low may not notice. A bellows that stands up stays down. So what has to be tried is
not the same for each.
"""

from collections.abc import Callable

from .alarm_kinds import (
    ALARMS,
    ASCENDING,
    DISCONNECTION,
    DISCONNECTION_LATE,
    HANGING,
    ON_RECORD,
    PISTON,
    TURBINE,
    Alarm,
)
from .challenges import Challenge, NoChallenge, Reason, Unmet
from .declarations import ChoiceSpec, Context, ReadingSpec, ResultSpec, TableSpec, Test
from .limits import FROM_MEMORY
from .measuring import Bench, Row
from .propagation import Measured, difference, propagate_measured
from .quantities import Dimension, from_si
from .readings import Sheet
from .results import Evaluation, Result
from .specs import NEVER_ON_A_PATIENT, must_be_yes, observation, reading, with_option
from .strictest import gravest
from .uncertainty import Estimate

REACTION_STD = 0.15  # s: two presses of a stopwatch by hand. Common practice, no source
RECORD, UNKNOWN = "record", ""
BY_HAND = "a bag squeezed by hand"  # the machine has no ventilator: nothing refills through the open hose
ENDS = ("patient_end", "machine_end")


def evaluate_alarms(sheet: Sheet, context: Context) -> Evaluation:
    """Return whether the chosen alarm sounded, where, and how late. Raises BenchError (see Test)."""
    bench = Bench(TEST, sheet, context)
    if bench.choice("alarm") == DISCONNECTION:
        results = _disconnection(bench)
    else:
        results = _at_a_limit(bench, ALARMS[bench.choice("alarm")])
    returns = bench.value("returns")
    if returns is not None:
        results.append(bench.result("returns", returns.estimate))
    return bench.finish(results)


def _at_a_limit(bench: Bench, alarm: Alarm) -> list[Result]:
    sounds, rows = bench.value("sounds", needed=True), _trials(bench, alarm)
    results = [] if sounds is None else [bench.result("alarm_sounds", sounds.estimate, convention=alarm.label)]
    sounded = [(number, row) for number, row in rows if "sounded" in row]
    if sounded:
        results.append(_where(bench, alarm, sounded))
    delays = [(f"Row {number}.", row["delay"]) for number, row in rows if "delay" in row]
    return [*results, *_longest(bench, alarm.delay, delays)]


def _trials(bench: Bench, alarm: Alarm) -> list[tuple[int, Row]]:
    nominal = ("set",) if alarm.is_read_apart else ("set", "sounded")
    return bench.rows(alarm.table, needed=1, nominal=nominal)


def _where(bench: Bench, alarm: Alarm, rows: list[tuple[int, Row]]) -> Result:
    """Return how far from its setting the alarm sounded, of the gravest trial; without a band that of the last one."""
    found = [difference(row["sounded"], row["set"]) for _, row in rows]
    own = bench.context.limits.get(alarm.error)
    place, judge = len(rows) - 1, own
    if own or alarm.band:
        limits = [own or alarm.band(alarm.error, row["set"].value) for _, row in rows]
        place = gravest(bench.test.result_spec(alarm.error), list(zip(found, limits, strict=True)))
        judge = limits[place]
    number, row = rows[place]
    unit = bench.unit(alarm.table, "sounded")
    shown = [f"{from_si(row[key].value, unit):.4g} {unit}" for key in ("set", "sounded")]
    return bench.result(
        alarm.error, found[place], limit=judge, remark=f"Row {number}: set to {shown[0]}, sounded at {shown[1]}."
    )


def _longest(bench: Bench, key: str, delays: list[tuple[str, Measured]]) -> list[Result]:
    if not delays:
        return []
    words, longest = max(delays, key=lambda one: one[1].value)
    remark = f"{words} The longest of {len(delays)}."
    return [bench.result(key, by_hand(longest), remark=remark)]


def by_hand(delay: Measured) -> Estimate:
    """Return a time between two presses of a stopwatch with what the hand adds to its uncertainty."""
    return propagate_measured(lambda time, reaction: time + reaction, (delay, Measured(0.0, own_std=REACTION_STD)))


def _disconnection(bench: Bench) -> list[Result]:
    drive = _drive(bench)
    answers = [(end, bench.value(f"{end}_sounds", needed=end in _ends_asked(drive))) for end in ENDS]
    delays = [(end, bench.value(f"{end}_delay")) for end in ENDS]
    bench.value("lowest_setting", needed=True)
    _say_what_to_do(bench, drive)
    heard = [(end, one) for end, one in answers if one is not None]
    results = []
    if heard:
        end, worst = min(heard, key=lambda one: one[1].value)
        words = f"hose off at the {_END_WORDS[end]}; {drive or 'drive not known'}"
        results.append(bench.result("alarm_sounds", worst.estimate, convention=words))
    timed = [(f"Hose off at the {_END_WORDS[end]}.", one) for end, one in delays if one is not None]
    return [*results, *_longest(bench, DISCONNECTION_LATE.key, timed)]


def _drive(bench: Bench) -> str:
    """Return what drives the breath: as chosen, else as the ventilator is recorded; empty where that is not known."""
    if "ventilator" in bench.context.lacks:
        return BY_HAND
    chosen = bench.choice("drive")
    return ON_RECORD.get(bench.context.ventilator, UNKNOWN) if chosen == RECORD else chosen


def _ends_asked(drive: str) -> tuple[str, ...]:
    """Return at which ends the hose has to come off: of bellows that stand up, and of a bag, one shows it."""
    return ENDS[:1] if drive in (ASCENDING, BY_HAND, UNKNOWN) else ENDS


def _say_what_to_do(bench: Bench, drive: str) -> None:
    if bench.choice("drive") == RECORD and bench.context.ventilator == "bellows":
        bench.remarks.append(
            "The record says bellows, and not whether they stand up or hang: they are tested as hanging ones, which is "
            "harder. If they stand up, choose so."
        )
    if drive == HANGING:
        bench.remarks.append(
            "Hanging bellows fall by their weight and fill with room air through the open hose: they look as if they "
            "worked. In 12 incidents the alarm failed: 6 were not switched on, 6 did not detect it (Anaesth Intensive "
            "Care 1993; 21). Try the alarm of low expired volume as well."
        )


def _provoked(bench: Bench) -> Unmet | None:
    """The alarm was given its cause in the way that is hardest for this machine."""
    if bench.choice("alarm") != DISCONNECTION:
        return _given_its_cause(bench, ALARMS[bench.choice("alarm")])
    drive = _drive(bench)
    if drive == UNKNOWN:
        return Unmet("What drives the breath is not recorded: choose it. Bellows that hang and pistons refill through "
                     "the open hose, and need a harder test than bellows that stand up.", Reason.NOT_KNOWN)  # fmt: skip
    lowest = bench.value("lowest_setting", needed=False)
    if lowest is None or lowest.value == 0:
        return Unmet("The alarm was not tried at its lowest setting, at which the resistance of a hose alone may keep "
                     "it silent.")  # fmt: skip
    for end in _ends_asked(drive):
        if bench.value(f"{end}_sounds", needed=False) is None:
            return Unmet(f"With {drive} take the hose off at the {_END_WORDS[end]} too.")
    return None


def _given_its_cause(bench: Bench, alarm: Alarm) -> Unmet | None:
    if any("sounded" in row for _, row in _trials(bench, alarm)):
        return None
    return Unmet("The value at which it sounded was not read: an alarm that was heard may have been another one.")


_END_WORDS = {"patient_end": "patient end", "machine_end": "machine end"}
_AT_A_LIMIT = tuple(ALARMS)
_SOUNDED = ("alarm_sounds",)


def _trial_table(alarm: Alarm) -> TableSpec:
    def column(key: str, label: str, dimension: Dimension, judges: tuple[str, ...], **more) -> ReadingSpec:
        return reading(key, label, dimension, judges=judges, **more)

    unit = alarm.unit
    judges = () if alarm.unjudged else (alarm.error, *_SOUNDED)
    return TableSpec(
        alarm.table, f"{alarm.label}: trials",
        (column("set", "Alarm set to", alarm.dimension, judges, first=unit, stated=True, unjudged=alarm.unjudged),
         column("sounded", "Sounded at", alarm.dimension, judges, first=unit, required=False, asked=True,
                stated=not alarm.is_read_apart, unjudged=alarm.unjudged),
         column("delay", "Delay", Dimension.TIME, (alarm.delay,), required=False, asked=True,
                help="from the moment at which the limit was passed")),
        0, 2, "change the value slowly for where it sounds, suddenly for the delay", is_expected=True,
        wanted=with_option("alarm", alarm.code), sets=("set",),
    )  # fmt: skip


def _asked_for(*codes: str) -> Callable[[Bench], bool]:
    return lambda bench: bench.choice("alarm") in codes


def _results_of(alarm: Alarm) -> tuple[ResultSpec, ResultSpec]:
    heard = NoChallenge("an alarm that sounded was given its cause")
    return (
        ResultSpec(alarm.error, f"{alarm.label}: where it sounded", alarm.dimension, alarm.unit,
                   "sounded at minus set to", heard, needed=_asked_for(alarm.code), unjudged=alarm.unjudged,
                   own_limit=alarm.band is not None),
        ResultSpec(alarm.delay, f"{alarm.label}: delay", Dimension.TIME, "s",
                   "from the cause until it sounds, longest trial", heard, needed=_asked_for(alarm.code),
                   unjudged=alarm.late_unjudged),
    )  # fmt: skip


def _of_disconnection(key: str, label: str, *, is_answer: bool, **more) -> ReadingSpec:
    wanted = with_option("alarm", DISCONNECTION)
    if is_answer:
        return observation(key, label, required=False, asked=True, judges=_SOUNDED, wanted=wanted, **more)
    return reading(key, label, Dimension.TIME, required=False, asked=key == "patient_end_delay", wanted=wanted,
                   judges=(DISCONNECTION_LATE.key,), **more)  # fmt: skip


TEST = Test(
    code="alarms",
    family="ventilator and monitors",
    title="Alarm",
    purpose="Give one alarm its cause, and read where it sounds and how late. Ventilate a test lung. Change the value "
            "slowly past the limit for where it sounds; for the delay start the stopwatch as the value passes it. "
            "For a disconnection set the alarm to its lowest limit and take the hose off: at the patient end, and with "
            "hanging bellows, a piston or a turbine at the machine end as well, since these go on moving.",
    cautions=(
        NEVER_ON_A_PATIENT,
        "Write the limits down before you change them, and set them back.",
        "What commonly goes wrong: an alarm switched off, a limit below the pressure that the hose alone makes, "
        "another alarm of the same sound, and a low limit tried only with the hose off at one end.",
    ),
    readings=(
        observation("sounds", "Did it sound?", required=False, asked=True, judges=_SOUNDED,
                    wanted=with_option("alarm", *_AT_A_LIMIT)),
        _of_disconnection("lowest_setting", "Was the alarm set to its lowest limit?", is_answer=True),
        _of_disconnection("patient_end_sounds", "Did it sound with the hose off at the patient end?", is_answer=True),
        _of_disconnection("patient_end_delay", "Delay, hose off at the patient end", is_answer=False),
        _of_disconnection("machine_end_sounds", "Did it sound with the hose off at the machine end?", is_answer=True),
        _of_disconnection("machine_end_delay", "Delay, hose off at the machine end", is_answer=False),
        observation("returns", "Silenced while its cause lasts, does it come back within 2 minutes?", required=False,
                    asked=True, judges=("returns",), help="an alarm of low oxygen supply should not be silenced at "
                    "all: answer yes if it was not"),
    ),
    tables=tuple(_trial_table(alarm) for alarm in ALARMS.values()),
    choices=(
        ChoiceSpec("alarm", "Which alarm",
                   (*((one.code, one.label) for one in ALARMS.values()),
                    (DISCONNECTION, "Disconnection: low pressure or apnoea")), "low-oxygen"),
        ChoiceSpec("drive", "What drives the breath",
                   ((RECORD, "as the ventilator is recorded"), (ASCENDING, "bellows that stand up"),
                    (HANGING, "bellows that hang"), (PISTON, "a piston"), (TURBINE, "a turbine")), RECORD,
                   wanted=with_option("alarm", DISCONNECTION), needs=("ventilator",)),
    ),
    rated=(),
    results=(
        ResultSpec("alarm_sounds", "The alarm sounds", Dimension.OBSERVATION, "yes/no", "as heard",
                    Challenge("the value at which it sounded read; of a disconnection the hose off at the lowest alarm "
                              "setting, at both ends where the drive refills through an open hose", _provoked),
                    needed=True),
        *(spec for alarm in ALARMS.values() for spec in _results_of(alarm)),
        ResultSpec("disconnection_delay", "Disconnection: delay", Dimension.TIME, "s",
                    "hose off until it sounds, longer end",
                    NoChallenge("an alarm that sounded was given its cause"), needed=_asked_for(DISCONNECTION)),
        ResultSpec("returns", "Comes back while its cause lasts", Dimension.OBSERVATION, "yes/no", "as heard",
                    NoChallenge("an alarm that came back was silenced before"), needed=True),
    ),
    default_limits=(
        must_be_yes("alarm_sounds", "The alarm sounds", "Anaesth Intensive Care 1993; 21: failed alarms", "1993"),
        *(alarm.late for alarm in ALARMS.values() if alarm.late),
        DISCONNECTION_LATE,
        must_be_yes("returns", "Comes back while its cause lasts", "IEC 60601-1-8", "IEC 60601-1-8", FROM_MEMORY),
    ),
    source="IEC 60601-1-8, ISO 80601-2-55 and IEC 60601-2-13, from memory; ASTM F1850-00; Anaesth Intensive Care 1993; "
           "21",
    evaluate=evaluate_alarms,
    asks=("ventilator",),
)  # fmt: skip
