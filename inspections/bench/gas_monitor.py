"""Capnograph and gas monitor against certified gases, each row judged by the band at its certified concentration."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import inf

from .challenges import Challenge, NoChallenge, Reason, Unmet
from .declarations import ChoiceSpec, Context, ResultSpec, TableSpec, Test
from .errors import BenchError
from .impossible import NeverCrosses
from .limits import Limit
from .measuring import Bench, Row
from .monitor_bands import AGENTS, DRY, GOOD_SHARE, MONITORED, SATURATED, MonitoredGas, fraction_of, partial_pressure_of
from .propagation import Measured, propagate_measured
from .quantities import Dimension, from_si
from .readings import Sheet
from .results import Evaluation, Result
from .specs import NEVER_ON_A_PATIENT, reading, with_option
from .strictest import gravest
from .uncertainty import Estimate

K = 2  # of the certificate, as its column says
PERCENT = "percent"
PRESSURE_TABLE = "co2_pressure"
SHOWN_PRESSURE = "shown_pressure"
SHOWS = {
    "co2": ("co2",), "infrared": ("co2", "n2o", "agent"), "all": ("co2", "n2o", "agent", "oxygen"),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Point:
    """One certified gas. `error` is None until the monitor has been read in it."""

    number: int
    gas: MonitoredGas
    reference: Measured
    limit: Limit
    error: Estimate | None

    @property
    def expanded(self) -> float:
        """Expanded uncertainty of the certified concentration."""
        return K * self.reference.own_std

    @property
    def share(self) -> float:
        """What part of the band that takes."""
        band = (self.limit.tolerance_si or 0.0) / 2
        return self.expanded / band if band else inf if self.expanded else 0.0

    @property
    def cannot_judge(self) -> str:
        """Return why this gas cannot judge the monitor, whatever it shows; empty if it can."""
        if self.share <= GOOD_SHARE * (1 + 1e-9):
            return ""
        expanded, band = (from_si(one, "%") for one in (self.expanded, (self.limit.tolerance_si or 0.0) / 2))
        return (
            f"{self.where}: the gas is certified to ± {expanded:.2g} %, more than a quarter of the ± {band:.2g} % that "
            "the monitor may err by. It cannot judge, whatever the monitor shows: use a gas with a closer certificate."
        )

    @property
    def where(self) -> str:
        name = self.gas.name
        return f"{name[:1].upper()}{name[1:]}, row {self.number} ({from_si(self.reference.value, '%'):.3g} %)"


def evaluate_monitor(sheet: Sheet, context: Context) -> Evaluation:
    """Return the gravest error of each gas, and the response time. Raises BenchError (see Test)."""
    bench = Bench(TEST, _without_zero(sheet), context)
    results: list[Result] = []
    for gas in _monitored(bench):
        points = _points(bench, gas)
        bench.remarks += [one.cannot_judge for one in points if one.error is None and one.cannot_judge]
        read = [one for one in points if one.error is not None]
        if read:
            results.append(_worst(bench, gas, read))
    _say_pressures(bench)
    response = bench.value("response")
    if response is not None:
        results.append(bench.result("response_time", response.estimate))
    return bench.finish(results)


def _without_zero(sheet: Sheet) -> Sheet:
    """Return the sheet with partial pressures as the figures they are: they have no zero to choose."""
    rows = tuple(
        {key: replace(one, zero=None) if key == SHOWN_PRESSURE and one is not None else one for key, one in row.items()}
        for row in sheet.tables.get(PRESSURE_TABLE, ())
    )
    return replace(sheet, tables={**sheet.tables, PRESSURE_TABLE: rows}) if rows else sheet


def _monitored(bench: Bench) -> list[MonitoredGas]:
    return [MONITORED[code] for code in SHOWS[bench.choice("monitor")]]


def _table(bench: Bench, gas: MonitoredGas) -> str:
    return PRESSURE_TABLE if gas.code == "co2" and bench.choice("co2_shows") != PERCENT else gas.code


def _points(bench: Bench, gas: MonitoredGas) -> list[Point]:
    """Return the rows of a gas from the poorest on; what a row lacks is noted as missing."""
    table = _table(bench, gas)
    label = next(one.label for one in bench.test.tables if one.key == table)
    found = []
    for number, row in bench.rows(table, needed=1, nominal=("reference", "certificate", "shown", SHOWN_PRESSURE)):
        where = f"{table}[{number}]"
        reference = _certified(bench, row, f"{label}, row {number}", where)
        judge = bench.context.limits.get(gas.result) or gas.limit(reference.value)
        found.append(Point(number, gas, reference, judge, _error(bench, row, reference, f"{label}, row {number}")))
    return sorted(found, key=lambda one: one.reference.value)


def _certified(bench: Bench, row: Row, label: str, where: str) -> Measured:
    """Return the certified concentration with its uncertainty; a gas without the substance needs no certificate."""
    reference, certificate = row["reference"], row.get("certificate")
    if reference.value == 0:
        return reference
    if certificate is None:
        bench.missing.append(f"{label}: relative uncertainty of the certificate")
        return reference
    if certificate.value == 0:
        raise BenchError(
            f"{where}.certificate", f"{label}: a certificate of ± 0 % is none. Enter the relative expanded uncertainty "
            "that the certificate states, such as 1 %.",
        )  # fmt: skip
    return replace(reference, own_std=certificate.value * reference.value / K, own_excess=0.0)


def _error(bench: Bench, row: Row, reference: Measured, label: str) -> Estimate | None:
    if "shown" in row:
        return propagate_measured(lambda shown, true: shown - true, (row["shown"], reference))
    if SHOWN_PRESSURE in row:
        kind = bench.choice("co2_shows")
        return propagate_measured(
            lambda shown, ambient, true: fraction_of(shown, ambient, kind) - true,
            (row[SHOWN_PRESSURE], bench.ambient, reference),
        )
    bench.missing.append(f"{label}: reading of the monitor")
    return None


def _worst(bench: Bench, gas: MonitoredGas, read: list[Point]) -> Result:
    candidates = [(one.error, one.limit) for one in read if one.error is not None]
    number = gravest(bench.test.result_spec(gas.result), candidates)
    (error, judge), point = candidates[number], read[number]
    remark = f"{point.where}: {from_si(error.value, '%'):+.2g} %; the gravest of {len(read)}."
    return bench.result(gas.result, error, limit=judge, remark=remark, convention=_convention(bench, gas))


def _convention(bench: Bench, gas: MonitoredGas) -> str:
    words = bench.test.result_spec(gas.result).convention
    if gas.code == "agent":
        return f"{words}; {bench.choice('substance')}"
    return f"{words}; {_MEANING[bench.choice('co2_shows')]}" if gas.code == "co2" else words


def _say_pressures(bench: Bench) -> None:
    """Say before the work what a right monitor shows where it shows a partial pressure."""
    kind, ambient = bench.choice("co2_shows"), bench.context.ambient_pa_abs
    if kind == PERCENT:
        return
    bench.assume(bench.context.assumed.get("ambient", ""))
    for number, row in bench.aside().rows(PRESSURE_TABLE, nominal=("reference", "certificate", SHOWN_PRESSURE)):
        expected = from_si(partial_pressure_of(row["reference"].value, ambient, kind), "mmHg")
        share = from_si(row["reference"].value, "%")
        bench.remarks.append(
            f"Row {number}: a right monitor shows {share:.3g} % of dry gas as {expected:.1f} mmHg at "
            f"{ambient / 1000:.4g} kPa, {_MEANING[kind]}."
        )


def _certified_gas(code: str) -> Callable[[Bench], Unmet | None]:
    """Return the check that certified gases close enough were read, one of them far up the scale."""
    gas = MONITORED[code]

    def check(bench: Bench) -> Unmet | None:
        read = [one for one in _points(bench, gas) if one.error is not None]
        if coarse := next((one.cannot_judge for one in read if one.cannot_judge), ""):
            return Unmet(coarse, Reason.TOO_COARSE, fail_stands=False)
        if not any(one.reference.value >= gas.least_span * (1 - 1e-9) for one in read):
            least = from_si(gas.least_span, "%")
            return Unmet(f"No certified gas with {least:.3g} % of {gas.name} or more was read: zero and scale may err "
                         "apart, and room air shows only the zero.")  # fmt: skip
        if gas.asks_zero and not any(one.reference.value == 0 for one in read):
            return Unmet(f"No gas without {gas.name} was read: enter one row with a reference of 0 %.")
        return None

    return check


_MEANING = {
    PERCENT: "shown as percent by volume",
    DRY: "partial pressure of the dry gas over the ambient pressure",
    SATURATED: "partial pressure at 37 °C and saturated (BTPS), over the ambient pressure less 6.28 kPa of water",
}


def _columns(gas: MonitoredGas, shown) -> tuple:
    judged = (gas.result,)
    return (
        reading("reference", "Certified concentration", Dimension.FRACTION, stated=True, judges=judged,
                help="of the dry gas, by its certificate; 0 for zero gas or room air without it"),
        reading("certificate", "Relative uncertainty of the certificate", Dimension.FRACTION, required=False,
                asked=True, stated=True, judges=judged, help="of the concentration, with k = 2; none for zero gas"),
        shown,
    )  # fmt: skip


def _gas_table(gas: MonitoredGas, **more) -> TableSpec:
    name = f"{gas.name[:1].upper()}{gas.name[1:]}"
    shown = reading("shown", "Monitor shows", Dimension.FRACTION, required=False, asked=True, stated=True,
                    judges=(gas.result,))  # fmt: skip
    return TableSpec(gas.code, name, _columns(gas, shown), 0, 2, "zero gas and a certified gas", is_expected=True,
                     sets=("reference", "certificate"), **more)  # fmt: skip


def _pressure_table(gas: MonitoredGas) -> TableSpec:
    shown = reading(SHOWN_PRESSURE, "Monitor shows", Dimension.PRESSURE, first="mmHg", required=False, asked=True,
                    stated=True, judges=(gas.result,), help="a partial pressure, not gauge or absolute")  # fmt: skip
    return TableSpec(PRESSURE_TABLE, "Carbon dioxide as partial pressure", _columns(gas, shown), 0, 2,
                     "zero gas and a certified gas", is_expected=True, sets=("reference", "certificate"),
                     wanted=with_option("co2_shows", DRY, SATURATED))  # fmt: skip


def _asked_for(gas: MonitoredGas) -> Callable[[Bench], bool]:
    return lambda bench: gas in _monitored(bench)


def _result(gas: MonitoredGas) -> ResultSpec:
    zero = "a gas without it, and " if gas.asks_zero else ""
    return ResultSpec(
        gas.result, f"Error, {gas.name}", Dimension.FRACTION, "%", "monitor minus certified concentration, gravest row",
        Challenge(f"{zero}a certified gas of {from_si(gas.least_span, '%'):.3g} % or more whose expanded uncertainty "
                  "is a quarter of the band or less", _certified_gas(gas.code)),
        needed=_asked_for(gas), own_limit=True,
    )  # fmt: skip


_NO_RESPONSE_LIMIT = "No published limit for it was found: compare it with the manufacturer's instructions."
_RISES = "A monitor shows more in a richer gas."

TEST = Test(
    code="gas-monitor",
    family="ventilator and monitors",
    title="Gas monitor",
    purpose="Compare a capnograph or gas monitor with certified gases. Warm it up as long as its instructions say, let "
            "it zero itself, and feed it through the sampling line in use from a bag or a T-piece at ambient pressure: "
            "from a cylinder straight into the line it reads too much. Read zero gas, then the certified gas, each "
            "until the figure is steady. Drift shows only in a certified gas: room air tells of the zero alone.",
    cautions=(
        NEVER_ON_A_PATIENT,
        "Certified gases with an agent are drugs: scavenge the exhaust of the monitor, and shut the cylinder after it.",
        "A side-stream monitor draws 100 to 250 mL/min: close the sampling port in a leak test, or it shows as a leak.",
        "What commonly goes wrong: a cylinder past its date, a monitor set to another agent or balance gas, water in "
        "the trap, and a partial pressure compared with a percentage at another ambient pressure.",
    ),
    readings=(
        reading("response", "Response time", Dimension.TIME, required=False, unjudged=_NO_RESPONSE_LIMIT,
                help="from the change of gas at the inlet until the monitor shows 90 % of the step; repeats count"),
    ),
    tables=(
        _gas_table(MONITORED["co2"], wanted=with_option("co2_shows", PERCENT)),
        _pressure_table(MONITORED["co2"]),
        _gas_table(MONITORED["n2o"], wanted=with_option("monitor", "infrared", "all")),
        _gas_table(MONITORED["agent"], wanted=with_option("monitor", "infrared", "all")),
        _gas_table(MONITORED["oxygen"], wanted=with_option("monitor", "all")),
    ),
    choices=(
        ChoiceSpec("monitor", "What the monitor shows",
                   (("co2", "carbon dioxide only"), ("infrared", "carbon dioxide, nitrous oxide and agents"),
                    ("all", "carbon dioxide, nitrous oxide, agents and oxygen")), "co2"),
        ChoiceSpec("co2_shows", "Carbon dioxide is shown as",
                   ((PERCENT, "percent by volume"), (DRY, "partial pressure, dry gas"),
                    (SATURATED, "partial pressure, 37 °C and saturated")), PERCENT),
        ChoiceSpec("substance", "Agent of the certified gas", tuple((one, one) for one in AGENTS), "sevoflurane",
                   wanted=with_option("monitor", "infrared", "all")),
    ),
    rated=(),
    results=(
        *(_result(gas) for gas in MONITORED.values()),
        ResultSpec("response_time", "Response time", Dimension.TIME, "s", "change of gas until 90 % of the step, with "
                   "the time through the sampling line", NoChallenge("it is reported only"),
                    unjudged=_NO_RESPONSE_LIMIT),
    ),
    default_limits=(),
    source="ISO 80601-2-55, from memory; Dalton's law",
    evaluate=evaluate_monitor,
    pairs=(
        *(NeverCrosses(code, code, "reference", "shown", _RISES) for code in MONITORED),
        NeverCrosses(PRESSURE_TABLE, PRESSURE_TABLE, "reference", SHOWN_PRESSURE, _RISES),
    ),
)  # fmt: skip
