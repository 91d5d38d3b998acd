"""What a leak test must have done, and whether it can see the leak at all; the leak with each vaporizer in turn."""

from collections.abc import Callable
from dataclasses import replace

from .capacity import BY_SUCTION
from .challenges import Challenge, Reason, Unmet, first_unmet
from .declarations import ChoiceSpec
from .limits import Limit
from .measuring import Bench
from .propagation import Measured, propagate_measured
from .quantities import from_si, to_si
from .results import Result
from .uncertainty import Estimate

TEST_PRESSURES = {"3 kPa": 3000.0, "30 cmH2O": to_si(30, "cmH2O")}
BAND = 0.1  # either side of the test pressure; common practice, no source
LEAST_WATCHED = 10.0  # s; FDA 1993 checkout, steps 5 and 11: at least 10 s
OUTLET_VALVE = "outlet-check-valve"


def is_suction(bench: Bench) -> bool:
    """Return whether the readings were taken below ambient pressure."""
    quiet = bench.aside()
    if bench.test.code not in BY_SUCTION:
        return False
    if bench.choice("method") == "make-up":
        held = quiet.value("makeup_pressure")
        return held is not None and held.value < 0
    rows = quiet.rows("decay")
    return bool(rows) and min(rows, key=lambda row: row[1]["time"].value)[1]["pressure"].value < 0


def brought_to(
    target: float, flow: Measured, pressure: Measured, *more: Measured, to: Callable[..., float] | None = None
) -> Estimate:
    """Return a leak read at a pressure as one at the test pressure: in proportion or by the root, what gives more.

    to  what else is made of it, from the leak and the values of `more`
    """
    power = 1.0 if pressure.value < target else 0.5

    def brought(q: float, p: float, *rest: float) -> float:
        leak = q * (target / p) ** power
        return to(leak, *rest) if to else leak

    return propagate_measured(brought, (flow, pressure, *more))


def _reached(bench: Bench, pressure: float) -> Unmet | None:
    """Return in what way a pressure held, Pa away from ambient, is not the test pressure."""
    at = bench.choice("at")
    target = TEST_PRESSURES[at]
    if abs(pressure - target) <= BAND * target * (1 + 1e-9):
        return None
    shown = f"{from_si(pressure, 'kPa'):.3g} kPa"
    why = f"The pressure was {shown}, not {at}: bring it within {BAND:.0%} of that."
    return Unmet(why, fail_stands=pressure < target)


def _at_test_pressure(bench: Bench) -> Unmet | None:
    if bench.choice("method") == "make-up":
        held = bench.value("makeup_pressure")
        return None if held is None else _reached(bench, abs(held.value))
    read = sorted((row["time"].value, abs(row["pressure"].value)) for _, row in bench.rows("decay"))
    return _decayed(bench, read) if read else None


def _decayed(bench: Bench, read: list[tuple[float, float]]) -> Unmet | None:
    at, first, last = bench.choice("at"), read[0][1], read[-1][1]
    target, watched = TEST_PRESSURES[at], read[-1][0] - read[0][0]
    if first < (1 - BAND) * target:
        return Unmet(f"The decay began at {from_si(first, 'kPa'):.3g} kPa: begin at {at} or somewhat above.")
    if last > (1 + BAND) * target:
        why = f"The decay ended at {from_si(last, 'kPa'):.3g} kPa, above {at}: go on until the pressure is below it."
        return Unmet(why, fail_stands=False)
    if watched < LEAST_WATCHED * (1 - 1e-9) and last > 0:
        return Unmet(f"The pressure was watched for {watched:.3g} s: watch it for 10 s or longer.")
    return None


def outlet_valve(bench: Bench) -> str:
    """Return "fitted", "none" or "not known"; what the record and the bench say, the worse of the two."""
    recorded, found = bench.context.features.get(OUTLET_VALVE, ""), bench.choice("outlet_valve")
    if "fitted" in (recorded, found):
        return "fitted"
    return "none" if recorded == "not fitted" or found == "none" else "not known"


def _can_see(bench: Bench) -> Unmet | None:
    """Positive pressure closes an outlet check valve, and then shows nothing of what lies upstream of it."""
    state = outlet_valve(bench)
    if state == "none" or is_suction(bench):
        return None
    what = "is fitted" if state == "fitted" else "may be fitted, nobody knows"
    why = (
        f"An outlet check valve {what}: positive pressure does not show leaks upstream of it. Test by suction, and "
        "enter negative pressures."
    )
    return Unmet(why, Reason.BLIND)


VAPORIZER_COUNT = ChoiceSpec(
    "vaporizer_count", "Vaporizers on the machine",
    (("record", "as the machine's record says"), *((str(n), str(n)) for n in range(7))), "record",
    option_needs={"record": ("vaporizer",), **{str(n): ("vaporizer",) for n in range(1, 7)}},
)  # fmt: skip


def vaporizer_count(bench: Bench) -> int | None:
    """Return how many vaporizers the machine has, as chosen, else as recorded; None if nobody knows."""
    chosen = bench.choice("vaporizer_count")
    return bench.context.vaporizers if chosen == "record" else int(chosen)


def has_vaporizers(bench: Bench) -> bool:
    return vaporizer_count(bench) != 0


def _each_in_turn(bench: Bench) -> Unmet | None:
    count, rows = vaporizer_count(bench), bench.rows("vaporizers")
    if count is None:
        return Unmet("How many vaporizers the machine has is not known: choose it.", Reason.NOT_KNOWN)
    if len(rows) < count:
        return Unmet(f"{len(rows)} of {count} vaporizers were tested: test with each turned on in turn.")
    return None


def _each_at_pressure(bench: Bench) -> Unmet | None:
    return next(
        (unmet for _, row in bench.rows("vaporizers") if (unmet := _reached(bench, abs(row["pressure"].value)))), None
    )


def _each_visible(bench: Bench) -> Unmet | None:
    if all(row["pressure"].value < 0 for _, row in bench.rows("vaporizers")) or outlet_valve(bench) == "none":
        return None
    why = "With an outlet check valve, or where nobody knows of one, each vaporizer is tested by suction."
    return Unmet(why, Reason.BLIND)


def with_vaporizers(bench: Bench, target: float) -> list[Result]:
    """Return the largest leak of all vaporizers, brought to the test pressure; none without rows."""
    found = [
        (number, brought_to(target, row["flow"], replace(row["pressure"], value=abs(row["pressure"].value))))
        for number, row in bench.rows("vaporizers")
        if row["pressure"].value
    ]
    bench.choice("outlet_valve")
    if not found:
        return []
    number, worst = max(found, key=lambda one: one[1].value)
    remark = f"Largest with vaporizer {number} of {len(found)} on."
    return [bench.result("leak_vaporizers", worst, limit=_limit_of_leak(bench), remark=remark)]


def _limit_of_leak(bench: Bench) -> Limit | None:
    limit = bench.limit("leak")
    return limit and replace(limit, key="leak_vaporizers")


MACHINE_LEAK = Challenge(
    "test pressure reached and watched, by suction where an outlet check valve hides leaks",
    first_unmet(_can_see, _at_test_pressure),
)
BREATHING_LEAK = Challenge("test pressure reached and watched", _at_test_pressure)
VAPORIZER_LEAK = Challenge(
    "each vaporizer on in turn at the test pressure, by suction where an outlet check valve hides leaks",
    first_unmet(_each_in_turn, _each_visible, _each_at_pressure),
)
