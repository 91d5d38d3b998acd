"""Leak of the low-pressure part and of the breathing system, by make-up flow or by pressure decay.

Every leak says its convention: mean over the decay or at the test pressure, as ambient volume or at
20 °C and 101.325 kPa. A limit judges the leak at the test pressure, as ambient volume.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

from .capacity import CAPACITIES, Capacity, DecayReadings, positive_value, read_decay
from .decay import Fit, fit_better, fit_decay, standard_flow
from .declarations import ChoiceSpec, Context, ResultSpec, TableSpec, Test
from .limits import FROM_MEMORY, SEEN, Limit
from .measuring import Bench, Measured, propagate_measured
from .pictures import points
from .quantities import Dimension, from_si, to_si
from .readings import Sheet
from .results import Curve, Evaluation, Mark, Result, Series
from .specs import NEVER_ON_A_PATIENT, limit, reading
from .uncertainty import Estimate, from_limits, propagate, with_added

AMBIENT_STD_PA = 1000.0
"""Standard uncertainty of the ambient pressure, Pa: weather about the value for the altitude.

Respirology 2004; 9: 406-8 gives 98.0 to 104.3 kPa at sea level, as limits 1.8 kPa; about half of that is taken for
an ordinary day (common practice, no source).
"""
AMBIENT_STD_K = 1.0  # of the ambient temperature: a wall thermometer; common practice, no source

TEST_PRESSURES = {"3 kPa": 3000.0, "30 cmH2O": to_si(30, "cmH2O")}


def evaluate_machine(sheet: Sheet, context: Context) -> Evaluation:
    """Return the leak of the low-pressure part, flow control to outlet. Raises BenchError (see Test)."""
    return _evaluate(Bench(MACHINE, sheet, context))


def evaluate_breathing_system(sheet: Sheet, context: Context) -> Evaluation:
    """Return the leak of the breathing system. Raises BenchError (see Test)."""
    return _evaluate(Bench(BREATHING_SYSTEM, sheet, context))


def _evaluate(bench: Bench) -> Evaluation:
    method, at = bench.choice("method"), bench.choice("at")
    capacity_by = bench.choice("capacity")
    results: list[Result] = []
    curves: tuple[Curve, ...] = ()
    if method == "make-up":
        results += _made_up(bench, at)
    else:
        decay = read_decay(bench, "decay", needed=2)
        capacity = CAPACITIES[capacity_by](bench)
        if decay is not None:
            curves = (_curve(bench, decay, at),)
            if capacity is not None and _falls(bench, decay):
                results += _Decay(bench, decay, capacity, at).results()
    return Evaluation(tuple(results), curves, bench.all_remarks(), tuple(bench.missing))


def _made_up(bench: Bench, at: str) -> list[Result]:
    flow, pressure = bench.value("makeup_flow", needed=True), positive_value(bench, "makeup_pressure")
    if flow is None or pressure is None:
        return []
    target = TEST_PRESSURES[at]
    power = 1.0 if pressure.value < target else 0.5
    shown = f"{pressure.value / 1000:.3g} kPa"
    way = "in proportion (laminar)" if power == 1.0 else "by the square root (orifice)"
    text = f"make-up flow at {shown}, scaled to {at} {way}, the larger of the two estimates; ambient volume"
    leak = propagate_measured(lambda q, p: q * (target / p) ** power, (flow, pressure))
    return _both(bench, "leak", leak, _as_standard(leak, bench.context), text)


def _as_standard(leak: Estimate, context: Context) -> Estimate:
    """Return a leak read as ambient volume at 20 °C and 101.325 kPa, ambient pressure and temperature uncertain."""
    ambient, kelvin = Estimate(context.ambient_pa_abs, AMBIENT_STD_PA), Estimate(context.temperature_k, AMBIENT_STD_K)
    return propagate(standard_flow, (leak, ambient, kelvin))


def _both(bench: Bench, key: str, leak: Estimate, standard: Estimate, convention: str) -> list[Result]:
    """Return the results of a leak as ambient volume and at 20 °C and 101.325 kPa."""
    at_standard = convention.replace("ambient volume", "volume at 20 °C and 101.325 kPa")
    return [
        bench.result(key, leak, convention=convention),
        bench.result(f"{key}_standard", standard, convention=at_standard),
    ]


def _falls(bench: Bench, decay: DecayReadings) -> bool:
    """Return whether the pressure falls or holds; a rise beyond its uncertainty cannot be a leak outwards."""

    def rise(*values: float) -> float:
        pressures = decay.unpack(values)[1]
        return pressures[-1] - pressures[0]

    change = propagate_measured(rise, decay.flat)
    if change.value > max(2 * change.std_uncertainty, 1e-9 * decay.pressures[0].value):
        bench.missing.append(
            "Pressure rose: gas is entering or warming up. Close all flows, let the pressure settle, and repeat"
        )
        return False
    return True


@dataclass(frozen=True, slots=True)
class _State:
    """The system for one set of values: m3/Pa, Pa/s at the test pressure, Pa/s over the decay, Pa absolute, K."""

    capacity: float
    target_fall: float
    mean_fall: float
    ambient: float
    kelvin: float


def _at_target(now: _State) -> float:
    return now.capacity * now.target_fall


def _mean(now: _State) -> float:
    return now.capacity * now.mean_fall


@dataclass(slots=True)
class _Decay:
    """A decay with its capacity: leak as mean and at the test pressure."""

    bench: Bench
    readings: DecayReadings
    capacity: Capacity
    at: str
    fit: Fit = field(init=False)
    other: Fit = field(init=False)
    is_told: bool = field(init=False)

    def __post_init__(self):
        self.fit, self.other, self.is_told = fit_better(*self.readings.plain)

    def results(self) -> list[Result]:
        """Return mean leak, leak at the test pressure, both as ambient and standard volume, and the capacity."""
        if self.capacity.text.startswith("make-up") and self.fit.rate <= 0:
            self.bench.missing.append(
                "Pressure did not fall, so the make-up flow cannot give the capacity: enter a stated capacity"
            )
            return []
        self._remark()
        mean_text = (
            f"mean over the decay from {self.readings.pressures[0].value / 1000:.3g} to "
            f"{self.readings.pressures[-1].value / 1000:.3g} kPa; ambient volume; {self.capacity.text}"
        )
        full_text = f"at {self.at}, {self.fit.kind} leak; ambient volume; {self.capacity.text}"
        return [
            *_both(self.bench, "leak", self._leak(_at_target), self._leak(_at_target, standard=True), full_text),
            *_both(self.bench, "leak_mean", self._leak(_mean), self._leak(_mean, standard=True), mean_text),
            self.bench.result("capacity", self._capacity()),
            self.bench.result("effective_volume", self._propagate(lambda now: now.capacity * now.ambient)),
        ]

    def _propagate(self, of: Callable[["_State"], float]) -> Estimate:
        """Return a function of the state with the uncertainty of readings and surroundings."""
        count, context = len(self.readings.flat), self.bench.context
        ambient = Measured(context.ambient_pa_abs, own_std=AMBIENT_STD_PA)
        kelvin = Measured(context.temperature_k, own_std=AMBIENT_STD_K)
        target = TEST_PRESSURES[self.at]

        def function(*values: float) -> float:
            times, pressures = self.readings.unpack(values[:count])
            fit = fit_decay(self.fit.kind, times, pressures)
            capacity = self.capacity.of(values[count:-2], fit, values[-2])
            mean_fall = (pressures[0] - pressures[-1]) / (times[-1] - times[0])
            return of(_State(capacity, fit.fall_rate(target), mean_fall, values[-2], values[-1]))

        return propagate_measured(function, (*self.readings.flat, *self.capacity.measured, ambient, kelvin))

    def _capacity(self) -> Estimate:
        return self._propagate(lambda now: now.capacity)

    def _leak(self, of: Callable[["_State"], float], *, standard: bool = False) -> Estimate:
        """Return a leak; at the test pressure, scatter and (if the readings do not determine the model) the choice of
        model add to its uncertainty."""

        def flow(now: _State) -> float:
            return standard_flow(of(now), now.ambient, now.kelvin) if standard else of(now)

        leak = self._propagate(flow)
        if of is not _at_target:
            return leak
        target, context = TEST_PRESSURES[self.at], self.bench.context
        scale = self._capacity().value
        if standard:
            scale = standard_flow(scale, context.ambient_pa_abs, context.temperature_k)
        scatter = Estimate(0.0, scale * self.fit.fall_rate_std(target), self.fit.dof)
        apart = scale * abs(self.fit.fall_rate(target) - self.other.fall_rate(target))
        return with_added(leak, scatter, Estimate(0.0) if self.is_told else from_limits(0.0, apart))

    def _remark(self) -> None:
        told = (
            f"its RMS deviation from the readings is {self.fit.misfit:.2g} Pa, for {self.other.kind} "
            f"{self.other.misfit:.2g} Pa"
            if self.is_told
            else "the readings cannot distinguish it from an orifice leak; the uncertainty allows for this"
        )
        self.bench.remarks.append(f"Leak treated as {self.fit.kind}: {told}.")
        pressure, target = self.readings.pressures[0].value, TEST_PRESSURES[self.at]
        if pressure < 0.9 * target or self.readings.pressures[-1].value > target * (1 + 1e-9):
            self.bench.remarks.append(
                f"The decay does not include {self.at}: the leak there is extrapolated by the model."
            )
        if not self.readings.temperatures:
            self.bench.remarks.append(self._cooling())

    def _cooling(self) -> str:
        """Return what 1 K of cooling would look like. Source: ideal gas in a closed volume."""
        readings = self.readings
        fall = (readings.ambient + readings.pressures[0].value) / self.bench.context.temperature_k
        took = readings.times[-1].value - readings.times[0].value
        flow = from_si(self._capacity().value * fall / took, "mL/min")
        return (
            f"Gas temperature not measured: cooling by 1 °C during the decay would read as a leak of {flow:.3g} mL/min."
        )


def _curve(bench: Bench, decay: DecayReadings, at: str) -> Curve:
    x_unit, y_unit = bench.unit("decay", "time"), bench.unit("decay", "pressure")
    times, pressures = decay.plain
    fit = fit_better(times, pressures)[0]
    begin, took = times[0], times[-1] - times[0]
    shape = [(begin + took * step / 40, fit.pressure(begin + took * step / 40)) for step in range(41)]
    line = tuple((from_si(t, x_unit), from_si(p, y_unit)) for t, p in shape)
    readings = list(zip(decay.times, decay.pressures, strict=True))
    series = (points("as read", readings, x_unit, y_unit, "points"), Series(f"{fit.kind} leak", line, "line"))
    mark = Mark("y", from_si(TEST_PRESSURES[at], y_unit), f"test pressure {at}", "note")
    return Curve("decay", "Pressure decay", "time", x_unit, "pressure", y_unit, series, (mark,))


def _leak_limits(*rows: tuple) -> tuple[Limit, ...]:
    return tuple(
        limit("leak", rule, title, (None, most), "mL/min", source, edition, basis, built=built)
        for rule, title, most, source, edition, basis, built in rows
    )


_MACHINE_LIMITS = _leak_limits(
    ("iso80601-50", "No more than 50 mL/min at 3 kPa", 50, "ISO 80601-2-13", "2011", FROM_MEMORY, (2011, None)),
    ("en740-50", "No more than 50 mL/min at 3 kPa", 50, "EN 740", "1998", FROM_MEMORY, (1998, 2011)),
    ("f1161-30", "No more than 30 mL/min at 3 kPa", 30, "ASTM F1161", "F1161", FROM_MEMORY, (None, 1998)),
    ("f1850-30", "No more than 30 mL/min at 3 kPa", 30, "ASTM F1850", "F1850-00", FROM_MEMORY, (2000, None)),
)

_BREATHING_LIMITS = _leak_limits(
    ("iso80601-150", "No more than 150 mL/min at 3 kPa", 150, "ISO 80601-2-13", "2011", FROM_MEMORY, (2011, None)),
    ("iso8835-150", "No more than 150 mL/min at 3 kPa", 150, "ISO 8835-2", "1999", FROM_MEMORY, (1999, 2011)),
    ("f1208-300", "No more than 300 mL/min at 30 cmH2O", 300, "ASTM F1208", "F1208-89", FROM_MEMORY, (None, 1999)),
    ("notebook-300", "No more than 300 mL/min at 30 cmH2O", 300,
     'trainee notebook "Anaesthetic Machine Check" (secondary)', "-", SEEN, (None, None)),
)  # fmt: skip


def _given(key: str, label: str, dimension: Dimension, first: str | None = None, help: str = "", stated: bool = False):
    return reading(key, label, dimension, first=first, help=help, required=False, stated=stated)


_READINGS = (
    _given("makeup_flow", "Make-up flow", Dimension.FLOW, "mL/min", "the flow that holds the test pressure"),
    _given("makeup_pressure", "Pressure held", Dimension.PRESSURE, "cmH2O"),
    _given("rigid_volume", "Rigid volume", Dimension.VOLUME, help="if the capacity is stated"),
    _given("compliance", "Compliance of hoses and bag", Dimension.COMPLIANCE, help="added to the rigid volume"),
    _given("injected_volume", "Volume injected", Dimension.VOLUME, help="from a syringe filled at ambient pressure"),
    _given("injected_before", "Pressure before injecting", Dimension.PRESSURE, "cmH2O"),
    _given("injected_after", "Pressure after injecting", Dimension.PRESSURE, "cmH2O"),
    _given("added_leak_flow", "Added known leak", Dimension.FLOW, "mL/min", stated=True),
    _given(
        "added_leak_pressure", "Pressure at which the known leak is stated", Dimension.PRESSURE, "cmH2O", stated=True
    ),
    _given("temperature_start", "Gas temperature at the start", Dimension.TEMPERATURE),
    _given("temperature_end", "Gas temperature at the end", Dimension.TEMPERATURE),
)

_DECAY_COLUMNS = (
    reading("time", "Time", Dimension.TIME),
    reading("pressure", "Pressure", Dimension.PRESSURE, first="cmH2O"),
)

_TABLES = (
    TableSpec("decay", "Pressure decay", _DECAY_COLUMNS, 0, 6, "for the pressure decay method; rows in any order"),
    TableSpec(
        "decay_added",
        "Pressure decay with the known leak",
        _DECAY_COLUMNS,
        0,
        6,
        "if the capacity is found with an added leak",
    ),
)

_CHOICES = (
    ChoiceSpec("method", "Method", (("make-up", "make-up flow"), ("decay", "pressure decay")),
               "make-up"),
    ChoiceSpec("capacity", "Capacity, for the pressure decay method",
               (("stated", "stated volume and compliance"), ("make-up", "from the make-up flow and the decay"),
                ("injected", "from an injected volume"), ("added leak", "from an added known leak")),
               "stated"),
    ChoiceSpec("at", "Test pressure", (("3 kPa", "3 kPa (30.6 cmH2O)"), ("30 cmH2O", "30 cmH2O (2.94 kPa)")), "3 kPa"),
)  # fmt: skip

_RESULTS = (
    ResultSpec("leak", "Leak", Dimension.FLOW, "mL/min", "at the test pressure; ambient volume"),
    ResultSpec("leak_standard", "Leak, standard volume", Dimension.FLOW, "mL/min",
                "at the test pressure; volume at 20 °C and 101.325 kPa"),
    ResultSpec("leak_mean", "Mean leak", Dimension.FLOW, "mL/min", "mean over the decay; ambient volume"),
    ResultSpec("leak_mean_standard", "Mean leak, standard volume", Dimension.FLOW, "mL/min",
                "mean over the decay; volume at 20 °C and 101.325 kPa"),
    ResultSpec("capacity", "Capacity", Dimension.COMPLIANCE, "mL/kPa", "ambient gas volume per unit of pressure"),
    ResultSpec("effective_volume", "Effective volume", Dimension.VOLUME, "mL",
                "equivalent rigid volume: capacity x ambient pressure"),
)  # fmt: skip


def _leak_test(code: str, title: str, purpose: str, caution: str, limits: tuple[Limit, ...], evaluate) -> Test:
    return Test(
        code=code, family="low-pressure leak", title=title, purpose=purpose,
        cautions=(
            NEVER_ON_A_PATIENT,
            caution,
            "Never exceed the manufacturer's maximum pressure; release it slowly. Remove test plugs and added leaks "
            "afterwards.",
        ),
        readings=_READINGS, tables=_TABLES, choices=_CHOICES, rated=(), results=_RESULTS, default_limits=limits,
        source="ideal gas; 40 CFR 1065.644 for the decay; limits as named", evaluate=evaluate,
    )  # fmt: skip


MACHINE = _leak_test(
    "low-pressure-leak",
    "Low-pressure system leak",
    "Measure the leak between the flow controls and the common gas outlet; repeat with each vaporizer on in turn.",
    "An outlet check valve hides upstream leaks from a positive-pressure test, which found 28 of 54 leaks; "
    "a suction bulb found 54 of 54 (Anesth Analg 1997; 84: 179-84).",
    _MACHINE_LIMITS,
    evaluate_machine,
)

BREATHING_SYSTEM = _leak_test(
    "breathing-system-leak",
    "Breathing system leak",
    "Measure the leak of the breathing system with the patient end closed.",
    "Open the APL valve afterwards and check that the pressure falls; never leave it closed.",
    _BREATHING_LIMITS,
    evaluate_breathing_system,
)
