"""Leak of the parts under cylinder or pipeline pressure, by the fall of the pressure in a closed volume.

One sheet is one gas and one section. The gas is a real one at its temperature: what is lost is the fall of its density.
"""

from dataclasses import replace

from fleet.catalogue.gases import get_gas

from .assumed_accuracy import TRAPPED_VOLUME
from .challenges import Challenge, Reason, Unmet, first_unmet
from .declarations import ChoiceSpec, Context, ResultSpec, TableSpec, Test, gas_options
from .errors import BenchError
from .high_pressure_decay import UNREAD_CHANGE_K, HighDecay, read_high_decay
from .impossible import NeverCrosses
from .limits import FROM_MEMORY, SEEN, Limit
from .measuring import Bench
from .pictures import points
from .propagation import Measured
from .quantities import Dimension, from_si, to_si
from .readings import Sheet
from .real_gas import saturation
from .results import Curve, Evaluation, Result
from .specs import NEVER_ON_A_PATIENT, limit, reading, with_option

CYLINDER = "cylinder"
SECTIONS = {
    CYLINDER: "cylinder side: valve closed, to the regulator",
    "inlet": "pipeline inlet with its hose",
    "lines": "internal lines, from inlet and regulator to the flow controls",
    "gauges": "gauges and their lines",
    "glands": "flow-control glands, lines closed behind them",
}
GASES = ("oxygen", "nitrous-oxide", "air", "nitrogen")
_GAS_OPTIONS = tuple((code, get_gas(code).name.lower()) for code in GASES)
LEAST_CYLINDER = to_si(1000, "psi")  # a cylinder half full: FDA 1993 checkout
LEAST_VAPOUR = to_si(2000, "kPa")  # nitrous oxide well below its vapour pressure; common practice, no source
LEAST_PIPELINE = to_si(280, "kPa")  # the least pipeline pressure in use, 40 psi; common practice, no source
WATCHED = {True: to_si(5, "min"), False: to_si(1, "min")}  # on the cylinder side by its rule; else common practice
NEARLY = 0.99  # of a time or a pressure that is set by hand
NEAR_LIQUID = 0.97  # share of the vapour pressure from which liquid may be present; common practice, no source
LEFT = 0.5  # share of the first pressure below which the mean says too little; common practice, no source


def evaluate_high_pressure(sheet: Sheet, context: Context) -> Evaluation:
    """Return the fall of the pressure and, where the volume is known, the leak. Raises BenchError (see Test)."""
    bench = Bench(HIGH_PRESSURE, sheet, context)
    for key in ("ambient", "temperature"):
        bench.assume(context.assumed.get(key, ""))
    decay, volume = read_high_decay(bench, bench.choice("gas")), _volume(bench)
    if decay is None or _rises(bench, decay):
        return bench.finish(())
    results = [_fall(bench, decay)]
    if volume is not None:
        results.insert(0, _leak(bench, decay, volume))
    if not decay.is_temperature_known:
        bench.remarks.append(_unread(decay, volume))
    return bench.finish(results, (_curve(bench, decay),))


def _volume(bench: Bench) -> Measured | None:
    """Return the volume that holds the gas, with the uncertainty stated for it if there is one."""
    within = bench.value("volume_within", nominal=True)
    volume = bench.value("volume", needed=not _is_cylinder(bench), nominal=within is not None, stated=TRAPPED_VOLUME)
    if volume is None:
        return None
    if volume.value <= 0:
        raise BenchError("volume", "Volume under pressure: 0 holds no gas. Enter the volume between the closed valves.")
    if within is None:
        return volume
    if within.value >= volume.value:
        message = "Uncertainty of that volume: it must be below the volume itself. Enter ± so much with k = 2."
        raise BenchError("volume_within", message)
    return replace(volume, own_std=within.value / 2, own_excess=0.0, shared_std=0.0, scale=None)


def _is_cylinder(bench: Bench) -> bool:
    return bench.choice("section") == CYLINDER


def _rises(bench: Bench, decay: HighDecay) -> bool:
    """Return whether the pressure rises beyond its uncertainty, which no leak outwards can do."""
    fall, smallest = decay.fall(), 1e-9 * (decay.pressures[0].value + decay.ambient.value) / decay.duration
    if fall.value >= -max(2 * fall.std_uncertainty, smallest):
        return False
    bench.missing.append(
        "Pressure rose: gas is entering from a supply that is not shut off, or is warming up. Close it, vent the "
        "other side, wait, and repeat"
    )
    return True


def _leak(bench: Bench, decay: HighDecay, volume: Measured) -> Result:
    section, name = SECTIONS[bench.choice("section")], get_gas(decay.gas).name.lower()
    text = f"mean over the decay, {_span(decay)}; {name} as a real gas; volume at 20 °C and 101.325 kPa; {section}"
    remark = "" if _is_cylinder(bench) else "The limit is of the whole supply of this gas: add up its sections."
    return bench.result("leak", decay.leak(volume), convention=text, remark=remark)


def _fall(bench: Bench, decay: HighDecay) -> Result:
    spec = bench.test.result_spec("pressure_fall")
    why = "" if _is_cylinder(bench) else "How fast the pressure falls depends on the volume; the leak is judged."
    text = f"{spec.convention}; {_span(decay)}"
    return bench.result(spec.key, decay.fall(), limit=fall_limit(bench.choice("cylinder")), unjudged=why,
                        convention=text)  # fmt: skip


def _span(decay: HighDecay) -> str:
    first, last = (from_si(one.value, "kPa") for one in (decay.pressures[0], decay.pressures[-1]))
    return f"from {first:.4g} to {last:.4g} kPa in {decay.duration:.3g} s"


def fall_limit(size: str) -> Limit:
    """Return the limit of the fall on the cylinder side, by the size of the cylinder ("small", "large")."""
    minutes = 7 if size == "large" else 5
    source = "US Army medical training text MD0353, p. 1-11"
    if minutes == 5:
        source = f"Ottawa university checkout, anesthesia.org wl97 acl1; {source}"
    return limit(
        "pressure_fall", "fall-100-psi", f"No more than 100 psi in {minutes} min", (None, 100 / minutes), "psi/min",
        source, "1997" if minutes == 5 else "-", SEEN,
        note="What leaks at this rate depends on the volume: 100 psi in 5 min from 10 mL is 14 mL/min.",
    )  # fmt: skip


def _unread(decay: HighDecay, volume: Measured | None) -> str:
    fall, lost = decay.warmed()
    shown = f"{from_si(fall, 'psi/min'):.2g} psi/min"
    if volume is not None:
        shown += f" and {from_si(_as_leak(decay, volume, lost), 'mL/min'):.2g} mL/min"
    return f"Gas temperature not read: cooling by {UNREAD_CHANGE_K:g} °C over the decay would read as {shown}."


def _as_leak(decay: HighDecay, volume: Measured, lost: float) -> float:
    return volume.value * lost / get_gas(decay.gas).density_kg_m3


# --- what must have been done ---


def _decay(bench: Bench) -> HighDecay:
    return read_high_decay(bench, bench.choice("gas"))


def _no_liquid(bench: Bench) -> Unmet | None:
    """Liquid boils off as gas is lost and keeps the pressure up, so that no leak shows."""
    decay = _decay(bench)
    for _, pa_abs, kelvin in decay.states([one.value for one in decay.flat]):
        colder = 0.0 if decay.is_temperature_known else UNREAD_CHANGE_K
        top = saturation(decay.gas, kelvin - colder)
        if top is not None and pa_abs >= NEAR_LIQUID * top:
            shown = from_si(top - decay.ambient.value, "kPa")
            why = (
                f"At {kelvin - 273.15:.0f} °C {get_gas(decay.gas).name.lower()} is liquid from about {shown:.0f} kPa "
                "on. While liquid is present its pressure does not fall by a leak: vent to well below that, let the "
                "gas settle, and repeat."
            )
            return Unmet(why, Reason.BLIND, fail_stands=False)
    return None


def _at_pressure(bench: Bench) -> Unmet | None:
    first = _decay(bench).pressures[0].value
    least = LEAST_PIPELINE
    if _is_cylinder(bench):
        least = LEAST_VAPOUR if saturation(bench.choice("gas"), 293.15) else LEAST_CYLINDER
    if first >= NEARLY * least:
        return None
    shown, asked = (from_si(one, "kPa") for one in (first, least))
    return Unmet(f"The decay began at {shown:.4g} kPa: begin at the working pressure, {asked:.0f} kPa or more.")


def _watched(bench: Bench) -> Unmet | None:
    took, asked = _decay(bench).duration, WATCHED[_is_cylinder(bench)]
    if took >= NEARLY * asked:
        return None
    return Unmet(f"The pressure was watched for {took:.3g} s: watch it for {asked / 60:.0f} min or longer.")


def _pressure_left(bench: Bench) -> Unmet | None:
    pressures = _decay(bench).pressures
    if pressures[-1].value >= LEFT * pressures[0].value:
        return None
    return Unmet(
        "More than half of the pressure was lost, so that the mean hides how much leaks at first: read sooner."
    )


def _temperature(key: str):
    """Return the check that a change of temperature that nobody read could not have moved a value over its limit."""

    def unmet(bench: Bench) -> Unmet | None:
        decay = _decay(bench)
        if decay.is_temperature_known:
            return None
        fall, lost = decay.warmed()
        if key == "leak":
            volume = _volume(bench)
            value, effect = decay.leak(volume).value, _as_leak(decay, volume, lost)
            judge = bench.limit(key)
        else:
            value, effect = decay.fall().value, fall
            judge = bench.limit(key) or fall_limit(bench.choice("cylinder"))
        if abs(value - judge.upper_si) > effect:
            return None
        why = (
            f"The gas temperature was not read, and a change by {UNREAD_CHANGE_K:g} °C would move this result over its "
            "limit. Read the temperature at the gas beside each pressure."
        )
        return Unmet(why, Reason.NOT_KNOWN, fail_stands=False)

    return unmet


def _challenge(key: str) -> Challenge:
    return Challenge(
        "gas without liquid at working pressure, watched for 1 min (cylinder side 5 min), with its temperature where "
        "that could hide the limit",
        first_unmet(_no_liquid, _at_pressure, _watched, _pressure_left, _temperature(key)),
    )


def _curve(bench: Bench, decay: HighDecay) -> Curve:
    x_unit, y_unit = bench.unit("decay", "time"), bench.unit("decay", "pressure")
    series = [points("as read", list(zip(decay.times, decay.pressures, strict=True)), x_unit, y_unit, "points")]
    if decay.is_temperature_known:
        series.append(points("at the first temperature", decay.corrected(), x_unit, y_unit, "line"))
    return Curve("decay", "Pressure decay", "time", x_unit, "pressure", y_unit, tuple(series))


_BOTH = ("leak", "pressure_fall")
_NO_OTHER = (
    "No figure was found for one section alone, nor another for older machines: the whole supply of a gas is judged so."
)

HIGH_PRESSURE = Test(
    code="high-pressure-leak",
    family="high-pressure leak",
    title="High-pressure leak",
    purpose=(
        "Measure how fast one section of one gas supply loses gas, from the fall of its pressure. Bring the section to "
        "its working pressure, close what feeds it and what it feeds, wait two minutes for the gas to take the "
        "temperature of the metal, then read time, pressure and temperature. Test the sections one by one: cylinder "
        "side, inlet and hose, internal lines, gauges, flow-control glands; a fault is then found where it is. Worn "
        "yoke washers, a gland nut that is loose, a hose that is crimped badly and a gauge whose tube is cracked are "
        "the usual leaks; a supply valve that does not close hides them all, for it feeds the section."
    ),
    cautions=(
        NEVER_ON_A_PATIENT,
        "{yokes|Up to 2,200 psi (15 MPa): open cylinder valves slowly, stand aside, and use no oil or grease."
        "|Use no oil or grease, and stand aside when you open a valve.}",
        "Vent the section before you loosen anything. Search for a leak with a fluid made for oxygen, never with a "
        "flame or with soap that holds grease.",
    ),
    readings=(
        reading("volume", "Volume under pressure", Dimension.VOLUME, required=False, asked=True, judges=("leak",),
                help="between the closed valves, from drawings or measured; hose of 6 mm bore: 28 mL for each metre"),
        reading("volume_within", "Uncertainty of that volume", Dimension.VOLUME, required=False, stated=True,
                judges=("leak",), help="± so much with k = 2; without it ± 20 % of the volume"),
    ),
    tables=(
        TableSpec("decay", "Pressure decay",
                  (reading("time", "Time", Dimension.TIME, first="min", judges=_BOTH),
                   reading("pressure", "Pressure", Dimension.PRESSURE, judges=_BOTH),
                   reading("temperature", "Gas temperature", Dimension.TEMPERATURE, required=False, judges=_BOTH,
                           help="at the metal of the section")),
                  2, 3, "first and last, better some between; the temperature in every row", sets=("time",)),
    ),
    choices=(
        ChoiceSpec("section", "Section", tuple(SECTIONS.items()), CYLINDER,
                   option_needs={CYLINDER: ("yokes",), "inlet": ("pipeline",)}),
        ChoiceSpec("gas", "Gas", _GAS_OPTIONS, "oxygen", option_needs=gas_options(_GAS_OPTIONS[:-1])),
        ChoiceSpec("cylinder", "Cylinder", (("small", "at the machine's own yoke"), ("large", "large, with a hose")),
                   "small", with_option("section", CYLINDER)),
    ),
    rated=(),
    results=(
        ResultSpec("leak", "Leak", Dimension.FLOW, "mL/min", "mean over the decay; volume at 20 °C and 101.325 kPa",
                   _challenge("leak"), needed=lambda bench: not _is_cylinder(bench)),
        ResultSpec("pressure_fall", "Fall of the pressure", Dimension.PRESSURE_PER_TIME, "psi/min",
                   "slope of the least-squares line, at the temperature of the first reading",
                   _challenge("pressure_fall"), needed=_is_cylinder, own_limit=True),
    ),
    default_limits=(
        limit("leak", "iec60601-25", "No more than 25 mL/min of each gas", (None, 25), "mL/min", "IEC 60601-2-13",
              "IEC 60601-2-13", FROM_MEMORY, note=_NO_OTHER),
    ),
    source="real gas by CoolProp 8.0.0; 40 CFR 1065.644 for the decay; limits as named",
    evaluate=evaluate_high_pressure,
    pairs=(NeverCrosses("decay", "decay", "time", "pressure", "Gas only escapes, so the pressure falls with time.",
                        falls=True),),
)  # fmt: skip
