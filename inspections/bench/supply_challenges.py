"""What must have been done to a machine for the results of a supply-failure test to mean anything."""

from .challenges import Challenge, NoChallenge, Reason, Unmet, first_unmet
from .measuring import Bench
from .oxygen_sweeps import PROPORTIONAL, RETURNED_FRACTION, UNKNOWN, Sweeps, read_sweeps
from .propagation import Measured
from .quantities import from_si, to_si
from .sweeps import Crossing

WORKING_LOW, WORKING_HIGH = to_si(37, "psi"), to_si(75, "psi")
"""Working pressures: 37 psi is the least of the intermediate section (aneskey.com "Anesthesia Machine", seen), at 75
psi supply lines relieve (textbooks, from memory)."""
LEAST_SET_FLOW = to_si(1, "L/min")  # ten times the smallest division of a tube; common practice, no source
WIDEST_BRACKET = to_si(5, "psi")  # about a crossing, where no limit has two ends; common practice, no source
WIDEST_RESET = to_si(10, "psi")  # the reset has no lower limit, so it may be read less closely
LARGEST_GAP = 0.3  # between neighbouring readings of a device in proportion, as a share of full pressure


def _shown(bench: Bench, pressure: float) -> str:
    unit = bench.unit("falling", "pressure")
    return f"{from_si(pressure, unit):.3g} {unit}"


def started_well(bench: Bench) -> Unmet | None:
    """The device was open: full working pressure, and a flow that can be seen to fall."""
    pressure, flow = bench.value("full_pressure"), bench.value("set_flow")
    if pressure is not None and not WORKING_LOW <= pressure.value <= WORKING_HIGH:
        return Unmet(
            f"The sweep started at {_shown(bench, pressure.value)}, which is no working pressure: start between "
            f"{_shown(bench, WORKING_LOW)} and {_shown(bench, WORKING_HIGH)}."
        )
    if flow is not None and flow.value < LEAST_SET_FLOW * (1 - 1e-9):
        return Unmet("Less than 1 L/min of the other gas was set: too little to be seen falling.")
    return None


def kind_is_known(bench: Bench) -> Unmet | None:
    """The curve does not contradict the kind by which it is judged, and an unknown kind is not the milder one."""
    sweeps = read_sweeps(bench)
    if sweeps is None or sweeps.shape is None:
        return None
    if sweeps.chosen == UNKNOWN:
        if sweeps.shape != PROPORTIONAL:
            return None
        why = "The curve looks like a device in proportion, and its kind is not known: find out and choose it."
        return Unmet(why, Reason.NOT_KNOWN)
    if sweeps.shape != sweeps.chosen:
        why = f"The curve looks like a {sweeps.shape} device, but {sweeps.chosen} was chosen."
        return Unmet(why, Reason.NOT_KNOWN)
    return None


def _trip_read_closely(bench: Bench) -> Unmet | None:
    sweeps, judge = read_sweeps(bench), bench.limit("trip_pressure")
    if sweeps is None or sweeps.trip is None:
        return None
    if judge and judge.upper_si is not None and sweeps.start[0].value <= judge.upper_si:
        return Unmet("The sweep started within the limit: start it above, where the other gas must flow.")
    is_band = judge and judge.lower_si is not None and judge.upper_si is not None
    return _read_closely(bench, sweeps.trip, judge.tolerance_si / 2 if is_band else WIDEST_BRACKET)


def _read_closely(bench: Bench, crossing: Crossing, widest: float) -> Unmet | None:
    width = crossing.high.value - crossing.low.value
    if width <= widest * (1 + 1e-9):
        return None
    high, low = _shown(bench, crossing.high.value), _shown(bench, crossing.low.value)
    return Unmet(
        f"Nothing was read between {high} and {low}, where the flow changed: read at steps of "
        f"{_shown(bench, widest)} or less there."
    )


def _reset_read_closely(bench: Bench) -> Unmet | None:
    sweeps = read_sweeps(bench)
    reset = sweeps.reset if sweeps else None
    return _read_closely(bench, reset, WIDEST_RESET) if reset else None


def _went_low_enough(bench: Bench) -> Unmet | None:
    sweeps = read_sweeps(bench)
    if sweeps is None:
        return None
    return _lets_through(bench, sweeps) if sweeps.kind == PROPORTIONAL else _below_the_trip(bench, sweeps)


def _below_the_trip(bench: Bench, sweeps: Sweeps) -> Unmet | None:
    judge = bench.limit("trip_pressure")
    asked = judge.lower_si if judge and judge.lower_si is not None else sweeps.start[0].value / 2
    if sweeps.lowest[0].value <= asked * (1 + 1e-9):
        return None
    why = f"The oxygen pressure was lowered to {_shown(bench, sweeps.lowest[0].value)} only"
    return Unmet(
        f"{why}: lower it to {_shown(bench, asked)}, where the other gas must have stopped.", fail_stands=False
    )


def _lets_through(bench: Bench, sweeps: Sweeps) -> Unmet | None:
    """A device in proportion lets gas through as long as there is oxygen pressure; it is no fault that it does."""
    judge, (pressure, set_flow) = bench.limit("residual_flow"), sweeps.start
    lawful = sweeps.share(sweeps.lowest[0].value, pressure.value) * set_flow.value
    if judge is None or judge.upper_si is None or lawful <= judge.upper_si:
        return None
    return Unmet(
        f"At {_shown(bench, sweeps.lowest[0].value)} a device in proportion still lets "
        f"{from_si(lawful, 'mL/min'):.0f} mL/min through: lower the oxygen pressure until none is left.",
        fail_stands=sweeps.lowest[1].value > lawful + judge.upper_si,
    )


def _read_all_along(bench: Bench) -> Unmet | None:
    sweeps = read_sweeps(bench)
    if sweeps is None:
        return None
    full = sweeps.start[0].value
    read = [pressure.value / full for pressure, _ in sweeps.falling]
    gap, at = max(((a - b, (a + b) / 2) for a, b in zip(read, read[1:], strict=False)), default=(1.0, 0.5))
    if gap > LARGEST_GAP * (1 + 1e-9):
        return Unmet(
            f"Nothing was read about {_shown(bench, at * full)}: read at a quarter of full pressure or closer."
        )
    if read[-1] > LARGEST_GAP:
        return Unmet(f"The sweep ended at {_shown(bench, read[-1] * full)}: lower the oxygen pressure further.")
    return None


def _came_back(bench: Bench) -> Unmet | None:
    sweeps = read_sweeps(bench)
    if sweeps is None or not sweeps.rising:
        return None
    if sweeps.rising[0][1].value >= sweeps.fraction * sweeps.start[1].value:
        return Unmet("The rising sweep did not start with the other gas cut off, so nothing had to come back.")
    return None


def _sounded_while_falling(bench: Bench) -> Unmet | None:
    alarm, full = bench.value("alarm_pressure"), bench.value("full_pressure")
    if _has(alarm, full) and alarm.value >= full.value * RETURNED_FRACTION:
        return Unmet("The alarm sounded at the full oxygen pressure, so no fall of the pressure set it off.")
    return None


def _has(*measured: Measured | None) -> bool:
    return None not in measured


TRIP = Challenge(
    "started at a working pressure with 1 L/min or more; read closely on both sides of the fall of the flow",
    first_unmet(started_well, kind_is_known, _trip_read_closely),
)
RESET = Challenge(
    "oxygen raised again from below cut-off, read closely about the return of the flow",
    first_unmet(started_well, _reset_read_closely),
)
RESIDUAL = Challenge(
    "oxygen lowered to where the other gas must have stopped",
    first_unmet(started_well, _went_low_enough, kind_is_known),
)
DEVIATION = Challenge(
    "read all along from a working pressure until little is left",
    first_unmet(started_well, _read_all_along, kind_is_known),
)
RETURN = Challenge("oxygen raised from cut-off to the full pressure", first_unmet(started_well, _came_back))
ALARM_PRESSURE = Challenge("alarm set off by a falling oxygen pressure", _sounded_while_falling)
SOUNDED = NoChallenge("an alarm that was timed has sounded")
DIFFERENCE = NoChallenge("it is reported only")
