"""Cylinder content, and how many minutes it lasts at a stated flow, with the gas that drives a ventilator.

Content is a volume at 20 °C and 101.325 kPa. Of a gas that is liquid in its cylinder the pressure says nothing until
the last liquid is gone, so that it is weighed.
"""

from fleet.catalogue.gases import get_gas

from .challenges import NoChallenge
from .cylinder_amount import Amount, Cylinder, by_mass, read_cylinder
from .declarations import ChoiceSpec, Context, ResultSpec, Test, gas_options
from .errors import BenchError
from .impossible import NeverAbove
from .limits import COMMON_PRACTICE, SEEN
from .measuring import Bench
from .propagation import Measured, propagate_measured
from .quantities import Dimension, from_si
from .readings import Sheet
from .real_gas import HIGHEST_PA_ABS, saturation
from .results import Evaluation, Result
from .specs import NEVER_ON_A_PATIENT, limit, reading, with_option

GASES = ("oxygen", "air", "nitrous-oxide", "carbon-dioxide", "nitrogen", "helium")
DRIVEN, NOT_DRIVEN = "driven", "not driven"


def evaluate_content(sheet: Sheet, context: Context) -> Evaluation:
    """Return content by pressure and by mass, how they agree, and the minutes left. Raises BenchError (see Test)."""
    bench = Bench(CONTENT, sheet, context)
    for key in ("ambient", "temperature"):
        bench.assume(context.assumed.get(key, ""))
    cylinder = read_cylinder(bench)
    pressed = cylinder.by_pressure()
    weighed = by_mass(bench, cylinder, needed=cylinder.is_liquefied and pressed is None)
    results: list[Result] = []
    for key, amount in (("content_pressure", pressed), ("content_mass", weighed)):
        if amount is not None:
            results.append(bench.result(key, amount.estimate, convention=f"{_AT_20}; {amount.text}"))
    results += _pressure(bench, cylinder)
    if pressed is not None and weighed is not None:
        results += _agreement(bench, pressed, weighed)
    _say_what_pressure_tells(bench, cylinder)
    chosen = (weighed or pressed) if cylinder.is_liquefied else (pressed or weighed)
    return bench.finish([*results, *_minutes(bench, cylinder, chosen)])


def _say_what_pressure_tells(bench: Bench, cylinder: Cylinder) -> None:
    name = get_gas(cylinder.gas).name
    if cylinder.may_hold_liquid:
        bench.remarks.append(
            f"{name} may be liquid in this cylinder: its pressure stays the same until the last liquid is gone, so "
            "that no content follows from it. Weigh the cylinder."
        )
    elif cylinder.held is not None and cylinder.is_too_warm:
        bench.remarks.append(
            f"{name} is close to its critical point at this temperature: no content follows from its pressure. Weigh "
            "the cylinder."
        )


def _pressure(bench: Bench, cylinder: Cylinder) -> list[Result]:
    found = cylinder.at_20()
    if found is None:
        return []
    why = "" if cylinder.gas == "oxygen" else "The rules are of spare oxygen cylinders."
    read = from_si(cylinder.held.value, "kPa")
    text = f"gauge; read {read:.5g} kPa at {from_si(cylinder.kelvin.value, '°C'):.3g} °C, same gas at 20 °C"
    return [bench.result("pressure_20", found, convention=text, unjudged=why)]


def _agreement(bench: Bench, pressed: Amount, weighed: Amount) -> list[Result]:
    if pressed.read[0].value < bench.context.ambient_pa_abs:
        return []  # an empty cylinder: a share of next to nothing
    count = len(pressed.read)

    def apart(*values: float) -> float:
        return weighed.of(*values[count:]) / pressed.of(*values[:count]) - 1

    found = propagate_measured(apart, (*pressed.read, *weighed.read))
    return [bench.result("agreement", found)]


def _minutes(bench: Bench, cylinder: Cylinder, content: Amount | None) -> list[Result]:
    flow, driving = bench.value("flow"), _driving(bench)
    if content is None or flow is None or driving is None:
        return []
    if flow.value + driving.value <= 0:
        raise BenchError("flow", "Flow drawn: 0 L/min never empties a cylinder. Enter the flow of use.")
    usable = _usable(bench, cylinder, content)
    results = [bench.result("minutes", _lasting(usable, (flow, driving)), convention=f"{usable.text}; {content.text}")]
    if bench.choice("drive") == DRIVEN and flow.value > 0:
        results.append(bench.result("minutes_undriven", _lasting(usable, (flow,))))
    return results


def _lasting(usable: Amount, flows: tuple[Measured, ...]):
    count = len(usable.read)
    return propagate_measured(lambda *v: usable.of(*v[:count]) / sum(v[count:]), (*usable.read, *flows))


def _usable(bench: Bench, cylinder: Cylinder, content: Amount) -> Amount:
    """Return the content above the reserve, not below zero; of one cylinder the two share its errors."""
    reserve = bench.value("reserve_pressure", nominal=True)
    if reserve is None or reserve.value <= 0:
        return Amount(content.read, lambda *v: max(0.0, content.of(*v)), "to the last gas")
    _refuse_reserve(cylinder, reserve)
    left = cylinder.below(reserve)
    if left is None:
        bench.remarks.append("The reserve is not taken off: for that the water capacity is needed.")
        return Amount(content.read, lambda *v: max(0.0, content.of(*v)), "to the last gas")
    text = f"down to {from_si(reserve.value, 'kPa'):.4g} kPa"
    if content.read[1:] == left.read[1:]:  # of its pressure: the same capacity, temperature and air pressure
        return Amount(
            (*content.read, reserve), lambda *v: max(0.0, content.of(*v[:-1]) - left.of(v[-1], *v[1:-1])), text
        )
    count = len(content.read)
    return Amount((*content.read, *left.read), lambda *v: max(0.0, content.of(*v[:count]) - left.of(*v[count:])), text)


def _refuse_reserve(cylinder: Cylinder, reserve: Measured) -> None:
    top = saturation(cylinder.gas, cylinder.kelvin.value) or HIGHEST_PA_ABS
    highest = top - cylinder.ambient.value
    if reserve.value <= highest:
        return
    shown, most = (from_si(one, "kPa") for one in (reserve.value, highest))
    name = get_gas(cylinder.gas).name.lower()
    message = (
        f"Reserve pressure: {shown:.5g} kPa is above what a cylinder of {name} can hold. Accepted: 0 to {most:.0f} kPa."
    )
    raise BenchError("reserve_pressure", message)


def _driving(bench: Bench) -> Measured | None:
    """Return the flow that drives the ventilator, exactly none where this gas does not drive it."""
    if bench.choice("drive") == NOT_DRIVEN:
        return Measured(0.0)
    return bench.value("driving_flow", needed=True)


_GAS_OPTIONS = tuple((code, get_gas(code).name.lower()) for code in GASES)
_AT_20 = "volume at 20 °C and 101.325 kPa"
_REPORTED = NoChallenge("it is reported only")
_MINUTES_TELL = "How long it lasts at the flow of use is judged."
_MINUTES = ("minutes",)

CONTENT = Test(
    code="cylinder-content",
    family="cylinders and gauges",
    title="Cylinder content",
    purpose=(
        "Work out how much gas a cylinder holds and how many minutes the reserve of the machine lasts. Read the "
        "pressure with the valve open and no flow, after the cylinder has stood in the room; a cylinder from the cold "
        "reads low (a full one a tenth at 0 °C), one that was just in use reads low as well. Weigh what is liquid in "
        "its cylinder: its pressure stays the same until the last liquid is gone.{ventilator| A ventilator that the "
        "gas drives takes about its minute volume once more, which most estimates at the bedside forget.}"
    ),
    cautions=(
        NEVER_ON_A_PATIENT,
        "Secure the cylinder before you open or weigh it; open the valve slowly, use no oil or grease.",
        "Minutes hold for the flow that was entered alone. Change over before they are used up.",
    ),
    readings=(
        reading("pressure", "Cylinder pressure", Dimension.PRESSURE, required=False, asked=True,
                judges=("pressure_20", "minutes", "agreement"), help="valve open, no flow"),
        reading("water_capacity", "Water capacity", Dimension.VOLUME, first="L", required=False, asked=True,
                judges=("minutes", "agreement"), help="stamped on the shoulder; a small yoke cylinder holds 4.7 L"),
        reading("gas_temperature", "Temperature of the cylinder", Dimension.TEMPERATURE, required=False,
                judges=("pressure_20", "minutes", "agreement"), help="that of the room where it has stood there"),
        reading("gross_mass", "Mass of the cylinder as it is", Dimension.MASS, required=False, asked=True,
                judges=("minutes", "agreement")),
        reading("tare", "Tare of the cylinder", Dimension.MASS, required=False, asked=True, stated=True,
                judges=("minutes", "agreement"), help="stamped on it; with the valve, without a cap"),
        reading("flow", "Flow drawn", Dimension.FLOW, stated=True, judges=_MINUTES, help="fresh gas of this gas"),
        reading("driving_flow", "Gas that drives the ventilator", Dimension.FLOW, required=False, asked=True,
                stated=True, judges=_MINUTES, wanted=with_option("drive", DRIVEN), help="about the minute volume"),
        reading("reserve_pressure", "Reserve pressure", Dimension.PRESSURE, required=False, stated=True,
                judges=_MINUTES, help="at which the cylinder is changed; none without an entry"),
    ),
    tables=(),
    choices=(
        ChoiceSpec("gas", "Gas", _GAS_OPTIONS, "oxygen", option_needs=gas_options(_GAS_OPTIONS)),
        ChoiceSpec("drive", "Ventilator", ((NOT_DRIVEN, "not driven by this gas"), (DRIVEN, "driven by this gas")),
                   NOT_DRIVEN, option_needs={DRIVEN: ("ventilator",)}),
    ),
    rated=(),
    results=(
        ResultSpec("content_pressure", "Content by pressure", Dimension.VOLUME, "L", _AT_20, _REPORTED,
                   unjudged=_MINUTES_TELL),
        ResultSpec("content_mass", "Content by mass", Dimension.VOLUME, "L", _AT_20, _REPORTED, unjudged=_MINUTES_TELL),
        ResultSpec("agreement", "Content by mass against that by pressure", Dimension.FRACTION, "%",
                   "(by mass - by pressure) / by pressure", NoChallenge("two ways of measuring challenge each other")),
        ResultSpec("pressure_20", "Cylinder pressure at 20 °C", Dimension.PRESSURE, "psi", "gauge",
                   NoChallenge("a cylinder that shows the pressure holds the gas")),
        ResultSpec("minutes", "Time until the reserve", Dimension.TIME, "min", "at the flow drawn and the driving gas",
                   NoChallenge("it follows from the content, which was measured"), needed=True),
        ResultSpec("minutes_undriven", "Time without driving gas", Dimension.TIME, "min",
                   "at the flow drawn alone, as with ventilation by hand", _REPORTED, unjudged=_MINUTES_TELL,
                   needs=("ventilator",)),
    ),
    default_limits=(
        limit("pressure_20", "fda93", "Spare oxygen at least half full, about 1000 psi", (1000, None), "psi",
              "FDA Anesthesia Apparatus Checkout Recommendations", "1993", SEEN,
              note="Brought to 20 °C: a cylinder from the cold reads low."),
        limit("pressure_20", "notebook-10-mpa", "Spare oxygen above 10 000 kPa", (10_000, None), "kPa",
              'trainee notebook "Anaesthetic Machine Check" (secondary)', "-", SEEN, strict=True),
        limit("agreement", "content-10", "Mass and pressure agree within 10 %", (-10, 10), "%",
              "common practice, no source", "-", COMMON_PRACTICE,
              note="The wrong gas, a wrong tare or a gauge that is out shows here."),
        limit("minutes", "reserve-30-min", "Lasts for 30 min or longer", (30, None), "min",
              "common practice, no source", "-", COMMON_PRACTICE,
              note="The same time that batteries are asked for; a site with far help sets its own."),
    ),
    source="real gas by CoolProp 8.0.0; FDA 1993 checkout for a spare cylinder; limits as named",
    evaluate=evaluate_content,
    pairs=(
        NeverAbove(("tare", ""), ("gross_mass", ""), "A cylinder weighs no less than its tare.", tolerance=0.005),
    ),
)  # fmt: skip
