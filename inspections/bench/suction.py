"""The suction of a machine: the vacuum that it reaches, the free air that it draws, and how fast the vacuum rises.

A vacuum cannot be deeper than the ambient pressure. Above 2,500 m the published figures, which are of sea level, ask
for most of the pressure that there is or for more, so that there they are judged as a share of it.
"""

from .challenges import Challenge, Reason, Unmet
from .declarations import ChoiceSpec, Context, ResultSpec, Test
from .errors import BenchError
from .limits import FROM_MEMORY, SEEN, Limit
from .measuring import Bench
from .propagation import Measured, propagate_measured
from .quantities import Dimension, from_si, to_si
from .readings import Sheet
from .results import Evaluation, Result
from .specs import NEVER_ON_A_PATIENT, limit, observation, reading

SEA_LEVEL_PA = 101_325.0
HIGH_PA_ABS = 74_692.0
"""The ambient pressure at 2,500 m. Source: U.S. Standard Atmosphere, 1976, by fluids 1.3.1."""
THEATRE, HIGH = "theatre", "high"
VACUUM_KPA = {THEATRE: 53.0, HIGH: 60.0}
FLOW_L_MIN = {THEATRE: 40.0, HIGH: 20.0}
TIMED_TO = to_si(300, "mmHg")
NEARLY = 0.05  # by how much the vacuum that was timed may miss 300 mmHg; common practice, no source
NOTHING_LEFT = 0.1  # share of the ambient pressure below which a remark says that a limit cannot be reached


def evaluate_suction(sheet: Sheet, context: Context) -> Evaluation:
    """Return depth and share of the vacuum, free flow and rise time. Raises BenchError (see Test)."""
    bench = Bench(SUCTION, sheet, context)
    bench.value("fully_open")
    results = _vacuum(bench)
    if (flow := bench.value("free_flow")) is not None:
        results.append(bench.result("free_flow", flow.estimate, limit=flow_limit(bench.choice("kind"))))
    rise = bench.value("rise_time")
    timed = _depth(bench, "timed_to")
    if rise is not None:
        at = "" if timed is None else f" to {from_si(-timed.value, 'kPa'):.3g} kPa below the room"
        results.append(bench.result("rise_time", rise.estimate, convention=f"from closing the inlet{at}"))
    return bench.finish(results)


def _depth(bench: Bench, key: str) -> Measured | None:
    """Return a vacuum as read, Pa gauge. Raises BenchError where it is above the room."""
    found = bench.value(key)
    if found is not None and found.value > 0:
        label = next(spec.label for spec in bench.test.readings if spec.key == key)
        raise BenchError(
            key, f"{label}: {from_si(found.value, 'kPa'):.3g} kPa gauge is above the room. Enter a vacuum as a "
            "negative number, or choose absolute.",
        )  # fmt: skip
    return found


def _is_high_up(bench: Bench) -> bool:
    return bench.context.ambient_pa_abs < HIGH_PA_ABS


def _vacuum(bench: Bench) -> list[Result]:
    found = _depth(bench, "vacuum")
    if found is None:
        return []
    kind, ambient = bench.choice("kind"), bench.context.ambient_pa_abs
    depth = propagate_measured(lambda gauge: -gauge, (found,))
    share = propagate_measured(lambda gauge, room: -gauge / room, (found, bench.ambient))
    if not _is_high_up(bench):
        why = "Up to 2,500 m the vacuum itself is judged."
        return [bench.result("vacuum", depth, limit=vacuum_limit(kind)),
                bench.result("vacuum_share", share, unjudged=why)]  # fmt: skip
    bench.remarks.append(_out_of_reach(kind, ambient))
    why = "Above 2,500 m the share of the ambient pressure is judged."
    return [bench.result("vacuum", depth, unjudged=why),
            bench.result("vacuum_share", share, limit=share_limit(kind))]  # fmt: skip


def _out_of_reach(kind: str, ambient_pa_abs: float) -> str:
    left = ambient_pa_abs - VACUUM_KPA[kind] * 1000
    shown = f"At {ambient_pa_abs / 1000:.4g} kPa a vacuum of {VACUUM_KPA[kind]:.0f} kPa"
    if left <= 0:
        return f"{shown} is not reachable: it is deeper than the ambient pressure. The share of that is judged."
    if left < NOTHING_LEFT * ambient_pa_abs:
        return f"{shown} leaves {left / 1000:.2g} kPa absolute, which no pump reaches. The share is judged."
    return f"{shown} leaves {left / 1000:.3g} kPa absolute. The share of the ambient pressure is judged."


def _fully_open(bench: Bench) -> Unmet | None:
    opened = bench.value("fully_open")
    if opened is not None and opened.value == 1:
        return None
    why = "Turn the vacuum control to its highest, and read again: less says nothing of what the suction can do."
    return Unmet(why, Reason.NOT_KNOWN if opened is None else Reason.NOT_CHALLENGED, fail_stands=False)


def _timed_deep_enough(bench: Bench) -> Unmet | None:
    if (unmet := _fully_open(bench)) is not None:
        return unmet
    timed = _depth(bench, "timed_to")
    if timed is None:
        return Unmet("To which vacuum the rise was timed is not stated: time it to 300 mmHg.", Reason.NOT_KNOWN)
    asked = TIMED_TO * (bench.context.ambient_pa_abs / SEA_LEVEL_PA if _is_high_up(bench) else 1.0)
    if -timed.value >= asked * (1 - NEARLY):
        return None
    shown = f"{from_si(asked, 'kPa'):.3g} kPa ({from_si(asked, 'mmHg'):.0f} mmHg)"
    return Unmet(f"The rise was timed to {from_si(-timed.value, 'kPa'):.3g} kPa below the room: time it to {shown}.")


_SOURCES = {
    THEATRE: ("kenners.org, scavenging and suction; BS 4957 gives the same vacuum", "-", SEEN),
    HIGH: ("ISO 10079-3, high vacuum and high flow", "ISO 10079-3", FROM_MEMORY),
}


def vacuum_limit(kind: str) -> Limit:
    """Return the least depth of the vacuum below the ambient pressure."""
    least = VACUUM_KPA[kind]
    words = f"At least {least:.0f} kPa below the room"
    return limit("vacuum", "suction-by-kind", words, (least, None), "kPa", *_SOURCES[kind])


def share_limit(kind: str) -> Limit:
    """Return the least vacuum as a share of the ambient pressure: what the published figure is of at sea level."""
    share = 100_000 * VACUUM_KPA[kind] / SEA_LEVEL_PA
    words = f"At least {share:.3g} % of the ambient pressure"
    note = f"{VACUUM_KPA[kind]:.0f} kPa of the 101.325 kPa of sea level."
    return limit("vacuum_share", "suction-by-kind", words, (share, None), "%", *_SOURCES[kind], note=note)


def flow_limit(kind: str) -> Limit:
    """Return the least flow of free air."""
    least = FLOW_L_MIN[kind]
    return limit("free_flow", "suction-by-kind", f"At least {least:.0f} L/min", (least, None), "L/min", *_SOURCES[kind])


_OPEN = Challenge("the vacuum control at its highest", _fully_open)
_BOTH = ("vacuum", "vacuum_share")

SUCTION = Test(
    code="suction",
    family="suction",
    title="Suction",
    purpose=(
        "Measure the vacuum with the inlet closed, the air drawn with the inlet open, and the time from closing the "
        "inlet until the vacuum is there. Put gauge and flowmeter at the end of the hose that is used, with jar and "
        "filter in place and the control at its highest. A wet filter, a lid that does not seal, a kinked hose and a "
        "float that closes too soon are what usually is wrong; each shows in one of the three and not in the others."
    ),
    cautions=(
        NEVER_ON_A_PATIENT,
        "Treat jar, hose and filter as infectious, and draw air only: water that gets past the float reaches the pump "
        "or the pipeline.",
        "Release the vacuum slowly before the gauge is taken off.",
    ),
    readings=(
        observation("fully_open", "Was the vacuum control at its highest?", required=False, asked=True,
                    judges=(*_BOTH, "free_flow", "rise_time")),
        reading("vacuum", "Vacuum, inlet closed", Dimension.PRESSURE, first="kPa", judges=_BOTH,
                help="a negative number, or absolute"),
        reading("free_flow", "Free air drawn, inlet open", Dimension.FLOW, judges=("free_flow",),
                help="as the flowmeter reads it at the pressure of the room"),
        reading("rise_time", "Time from closing the inlet", Dimension.TIME, required=False, judges=("rise_time",)),
        reading("timed_to", "Vacuum to which it was timed", Dimension.PRESSURE, first="mmHg", required=False,
                judges=("rise_time",), help="-300 mmHg (-40 kPa)"),
    ),
    tables=(),
    choices=(
        ChoiceSpec("kind", "Kind of suction", (
            (THEATRE, "of a theatre: 53 kPa and 40 L/min"), (HIGH, "ISO 10079-3, high vacuum: 60 kPa and 20 L/min")),
            THEATRE),
    ),
    rated=(),
    results=(
        ResultSpec("vacuum", "Vacuum", Dimension.PRESSURE, "kPa", "depth below the ambient pressure, inlet closed",
                   _OPEN, needed=lambda bench: not _is_high_up(bench), own_limit=True),
        ResultSpec("vacuum_share", "Vacuum as share of the ambient pressure", Dimension.FRACTION, "%",
                   "depth below the ambient pressure over that pressure", _OPEN, needed=_is_high_up, own_limit=True),
        ResultSpec("free_flow", "Free air flow", Dimension.FLOW, "L/min", "air at the pressure of the room, inlet open",
                   _OPEN, needed=True, own_limit=True),
        ResultSpec("rise_time", "Rise time", Dimension.TIME, "s", "from closing the inlet",
                   Challenge("timed to 300 mmHg below the room, the control at its highest", _timed_deep_enough)),
    ),
    default_limits=(
        limit("rise_time", "suction-4-s", "300 mmHg within 4 s", (None, 4), "s",
              "US federal specification of ambulances, KKK-A-1822", "KKK-A-1822", FROM_MEMORY,
              note="Of suction in an ambulance; no figure was found for that of an anaesthesia machine."),
    ),
    source="kenners.org, scavenging and suction; BS 4957; ISO 10079-3 (from memory)",
    evaluate=evaluate_suction,
)  # fmt: skip
