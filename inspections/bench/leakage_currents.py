"""Leakage currents with mains, referred to nominal mains: electrical safety in two tests, the second."""

from dataclasses import dataclass

from .challenges import Challenge, NoChallenge, Unmet, first_unmet
from .declarations import ChoiceSpec, Context, ResultSpec, Test, Wanted
from .electrical_safety import (
    APPLIED,
    CAUTIONS,
    CLASS,
    EDITION,
    IEC,
    RULES,
    answered,
    at_acceptance,
    has_earth,
    has_isolated_part,
    is_international,
    watched,
)  # fmt: skip
from .errors import BenchError
from .impossible import NeverAbove
from .limits import FROM_MEMORY, SEEN, Limit
from .measuring import Bench
from .propagation import Measured, propagate_measured
from .quantities import Dimension
from .readings import Sheet
from .results import Evaluation, Result
from .specs import limit, observation, reading, with_option

ALTERNATIVE = "alternative"
MAINS_BAND = (0.8, 1.2)  # of nominal mains, within which a machine works as it does in use; common practice, no source
LEAST_OWN_VOLTAGE = 0.5  # of nominal mains, that the tester applies by itself; common practice, no source


def evaluate_leakage(sheet: Sheet, context: Context) -> Evaluation:
    """Return the leakage currents that the rules of the test ask for, referred to nominal mains."""
    bench = Bench(TEST, sheet, context)
    for condition in ("tested_before", "switched_on"):
        bench.value(condition)
    voltages = _voltages(bench)
    if not is_international(bench):
        return bench.finish(_touch_currents(bench, voltages))
    currents = [bench.value("equipment_leakage", needed=True), _reversed(bench)]
    results = _judged(bench, "equipment_leakage", _highest(currents), voltages, "equipment",
                      equipment_limit(bench.choice("protection_class"), bench.choice("method")))  # fmt: skip
    if (kind := bench.choice("applied_part")) != "none":
        current = bench.value("applied_leakage")
        results += _judged(bench, "applied_leakage", current, voltages, "applied", applied_limit(kind))
    return bench.finish(results)


def _reversed(bench: Bench) -> Measured | None:
    return None if _is_alternative(bench) else bench.value("equipment_leakage_reversed")


def _highest(currents: list[Measured | None]) -> Measured | None:
    return max((one for one in currents if one is not None), key=lambda one: one.value, default=None)


def _touch_currents(bench: Bench, voltages: "Voltages | None") -> list[Result]:
    """Return the touch currents; the reference value of acceptance is of the ground open where that is measured."""
    intact = bench.value("touch_intact", needed=True)
    if not has_earth(bench):
        return _judged(bench, "touch_intact", intact, voltages, "touch")
    results = _judged(bench, "touch_intact", intact, voltages)
    return [*results, *_judged(bench, "touch_open", bench.value("touch_open"), voltages, "touch")]


@dataclass(frozen=True, slots=True)
class Voltages:
    """What a current is referred to, and at what it was read. None for both: it counts as the tester shows it."""

    nominal: Measured | None = None
    at_test: Measured | None = None

    def referred(self, current: Measured) -> list[Measured]:
        """Return what the referred current is made of, for `_refer`."""
        return [current] if self.at_test is None else [current, self.nominal, self.at_test]

    @property
    def convention(self) -> str:
        if self.at_test is None:
            return "as the tester shows it at its own voltage"
        return "as read x nominal mains voltage / voltage at the measurement"


def _refer(current: float, nominal: float = 1.0, at_test: float = 1.0) -> float:
    return current * nominal / at_test


def _is_alternative(bench: Bench) -> bool:
    return is_international(bench) and bench.choice("method") == ALTERNATIVE


def _voltages(bench: Bench) -> Voltages | None:
    """Return the voltages, None while they are missing. Raises BenchError for a voltage of zero."""
    is_own = _is_alternative(bench)
    key = "tester_voltage" if is_own else "mains_voltage"
    at_test = bench.value(key, needed=not is_own)
    if is_own and at_test is None:
        bench.assume("the alternative method was used: the tester refers its reading to nominal mains by itself.")
        return Voltages()
    nominal = bench.value("nominal_voltage", nominal=True, needed=True)
    for place, found in ((key, at_test), ("nominal_voltage", nominal)):
        if found is not None and found.value == 0:
            raise BenchError(place, "0 V drives no leakage current. Enter the voltage that the tester shows for mains.")
    return None if at_test is None or nominal is None else Voltages(nominal, at_test)


def _judged(
    bench: Bench, key: str, current: Measured | None, voltages: Voltages | None, reference_of: str = "",
    own: Limit | None = None,
) -> list[Result]:  # fmt: skip
    """Return a leakage current referred to nominal mains, with its change where a reference value is known."""
    reference = at_acceptance(bench, f"{reference_of}_reference") if reference_of else None
    if current is None or voltages is None:
        return []
    inputs = voltages.referred(current)
    result = bench.result(key, propagate_measured(_refer, inputs), limit=own,
                          convention=f"{bench.test.result_spec(key).convention}; {voltages.convention}")  # fmt: skip
    if reference is None:
        return [watched(result)]
    change = propagate_measured(lambda then, *now: _refer(*now) - then, (reference, *inputs))
    return [watched(result, reference.value, change), bench.result(f"{reference_of}_change", change)]


_CITED = "IEC 62353 table 2, as cited in the instruction of a hospital bed"
_TABLE = "IEC 62353 table 2"
_EQUIPMENT = {
    ("I", "direct"): (500, _CITED, SEEN),
    ("I", "differential"): (500, _TABLE, FROM_MEMORY),
    ("I", ALTERNATIVE): (1000, _TABLE, FROM_MEMORY),
    ("II", "direct"): (100, _TABLE, FROM_MEMORY),
    ("II", "differential"): (100, _TABLE, FROM_MEMORY),
    ("II", ALTERNATIVE): (500, _TABLE, FROM_MEMORY),
}  # µA
_APPLIED = {"B": (5000, _CITED, SEEN), "BF": (5000, _TABLE, FROM_MEMORY), "CF": (50, _TABLE, FROM_MEMORY)}  # µA
_B_NOTE = "That text lists it; a type B applied part is usually measured together with the case (equipment leakage)."


def equipment_limit(protection_class: str, method: str) -> Limit:
    """Return the limit of the equipment leakage current, by class and method. Raises KeyError for one that is not."""
    most, source, basis = _EQUIPMENT[protection_class, method]
    title = f"Class {protection_class}, {method} method: no more than {most} µA"
    return limit(
        "equipment_leakage", IEC, title, (None, most), "µA",
        f"{source}, row of class {protection_class}, {method} method", EDITION, basis,
    )  # fmt: skip


def applied_limit(kind: str) -> Limit:
    """Return the limit of the leakage current of an applied part, mains on it, by type B, BF or CF."""
    most, source, basis = _APPLIED[kind]
    title = f"Type {kind}: no more than {most} µA"
    return limit(
        "applied_leakage", IEC, title, (None, most), "µA", f"{source}, row of type {kind}", EDITION, basis,
        note=_B_NOTE if kind == "B" else "",
    )  # fmt: skip


def _tested_before(bench: Bench) -> Unmet | None:
    return answered(
        bench, "tested_before", "Whether earth and insulation were tested before is not stated.",
        "Earth and insulation come first: without them the leakage current shows nothing of the insulation in a fault.",
    )  # fmt: skip


def _switched_on(bench: Bench) -> Unmet | None:
    return answered(
        bench, "switched_on", "Whether the machine was switched on is not stated.",
        "The machine was not switched on: only the cord and what lies before the switch gave leakage.",
    )  # fmt: skip


def _at_mains(bench: Bench) -> Unmet | None:
    """Say where the voltage was too far from nominal mains: what is referred is then a guess."""
    voltages = _voltages(bench)
    if voltages is None or voltages.at_test is None:
        return None
    share = voltages.at_test.value / voltages.nominal.value
    low, high = (LEAST_OWN_VOLTAGE, MAINS_BAND[1]) if _is_alternative(bench) else MAINS_BAND
    if low <= share <= high:
        return None
    return Unmet(
        f"The voltage at the measurement was {share:.0%} of nominal mains; {low:.0%} to {high:.0%} can be referred. "
        "Check both voltages."
    )


_WORKING = Challenge(
    "switched on, at a voltage near nominal mains, after earth and insulation passed",
    first_unmet(_tested_before, _switched_on, _at_mains),
)

_IEC_ONLY, _US_ONLY = with_option("rules", "international"), with_option("rules", "us")
_ON_MAINS: Wanted = (
    *_US_ONLY, *((("rules", "international"), ("method", method)) for method in ("direct", "differential")),
)  # fmt: skip
_GROUND = ((("rules", "us"), ("protection_class", "I")),)
_PARTS: Wanted = tuple((("rules", "international"), ("applied_part", kind)) for kind in _APPLIED)
_OWN: Wanted = ((("rules", "international"), ("method", ALTERNATIVE)),)
_ALL = ("equipment_leakage", "applied_leakage", "touch_intact", "touch_open")
_REFERENCE = "It is the reference value of acceptance: the change since is reported, and the value itself judged."
_CHANGE = "No limit of the change is published that could be looked up; a clear change is remarked on."
_AGAINST = NoChallenge("the reading that it compares is challenged")
_NFPA = "NFPA 99, portable equipment"
_CHASSIS_NOTE = "Up to 500 µA with intact earth and a documented schedule. Applies where a procedure names it."


def _amperes(key: str, label: str, judges: tuple[str, ...], wanted: Wanted, **more):
    more = {"first": "µA", "required": False, "asked": True, **more}
    return reading(key, label, Dimension.CURRENT, judges=judges, wanted=wanted, **more)


def _reference(key: str, label: str, wanted: Wanted):
    help = "the first measurement by the same method, referred to nominal mains"
    return _amperes(key, label, (), wanted, asked=False, stated=True, unjudged=_REFERENCE, help=help)


def _volts(key: str, label: str, wanted: Wanted, **more):
    return reading(key, label, Dimension.VOLTAGE, required=False, judges=_ALL, wanted=wanted, **more)


def _done(key: str, label: str, help: str):
    return observation(key, label, required=False, asked=True, judges=_ALL, help=help)


def _change(key: str, label: str) -> ResultSpec:
    return ResultSpec(key, label, Dimension.CURRENT, "µA", "now minus at acceptance, both referred to nominal mains",
                      _AGAINST, unjudged=_CHANGE)  # fmt: skip


TEST = Test(
    code="leakage-currents",
    family="electrical safety",
    title="Leakage currents",
    purpose=(
        "Measure the leakage current of the whole machine, and that of its isolated applied parts, with all that is "
        "switched by mains on. Direct: the machine stands isolated, since every second way to earth (hose, rail, data "
        "cable) carries current past the tester. Differential: such ways may stay, but a few tens of µA are lost in "
        "the difference of two large currents. Alternative: no mains, line and neutral together; it sees nothing that "
        "a relay or an electronic switch holds open."
    ),
    cautions=(
        *CAUTIONS,
        "With the earth open the case can be live: never touch it or what it is connected with. Mains on an applied "
        "part is the voltage of the wall socket at the connector of the patient.",
    ),
    readings=(
        _done("tested_before", "Did earth and insulation, as far as they apply, pass before this?",
              "a machine without a sound earth is not connected with mains for this test"),
        _done("switched_on", "Was the machine switched on, with all its mains switches?",
              "{ventilator|ventilator, }heaters, lamps and outlets of the machine included"),
        _volts("mains_voltage", "Mains voltage at the measurement", _ON_MAINS, asked=True,
               help="line to neutral, read while the current is read"),
        _volts("tester_voltage", "Voltage that the tester applies", _OWN,
               help="only where the tester does not refer its reading to nominal mains by itself"),
        _volts("nominal_voltage", "Nominal mains voltage", (), asked=True, stated=True,
               help="of the hospital's mains: 230 V, 120 V, 100 V"),
        _amperes("equipment_leakage", "Equipment leakage current", ("equipment_leakage", "equipment_change"), _IEC_ONLY,
                 help="case and applied parts together; on a class II case, foil on what is not metal"),
        _amperes("equipment_leakage_reversed", "Equipment leakage current, mains reversed",
                 ("equipment_leakage", "equipment_change"), tuple(_ON_MAINS[1:]), asked=False,
                 help="with line and neutral exchanged, where the plug allows it; the higher counts"),
        _amperes("applied_leakage", "Leakage current of the applied part, mains on it",
                 ("applied_leakage", "applied_change"), _PARTS,
                 help="all connections of one applied part together; the worst of several counts"),
        _amperes("touch_intact", "Touch current, ground intact", ("touch_intact", "touch_change"), _US_ONLY,
                 help="case to ground, normal polarity; class II has no ground: measure it all the same"),
        _amperes("touch_open", "Touch current, ground open", ("touch_open", "touch_change"), _GROUND,
                 help="case to ground with the ground wire opened by the tester, normal polarity"),
        _reference("equipment_reference", "Equipment leakage current at acceptance", _IEC_ONLY),
        _reference("applied_reference", "Leakage current of the applied part at acceptance", _PARTS),
        _reference("touch_reference", "Touch current at acceptance, ground open where there is one", _US_ONLY),
    ),
    tables=(),
    choices=(
        RULES,
        CLASS,
        ChoiceSpec("method", "Method", (("direct", "direct, machine isolated from earth"),
                                        ("differential", "differential, line less neutral"),
                                        (ALTERNATIVE, "alternative, voltage of the tester")),
                   "direct", wanted=_IEC_ONLY),
        APPLIED,
    ),
    rated=(),
    results=(
        ResultSpec("equipment_leakage", "Equipment leakage current", Dimension.CURRENT, "µA",
                   "r.m.s.; the higher of the polarities read", _WORKING, needed=is_international, own_limit=True),
        ResultSpec("applied_leakage", "Leakage current of the applied part", Dimension.CURRENT, "µA",
                   "r.m.s.; mains on the applied part", _WORKING, needed=has_isolated_part, own_limit=True),
        ResultSpec("touch_intact", "Touch current, ground intact", Dimension.CURRENT, "µA", "r.m.s.; normal polarity",
                   _WORKING, needed=lambda bench: not is_international(bench)),
        ResultSpec("touch_open", "Touch current, ground open", Dimension.CURRENT, "µA", "r.m.s.; normal polarity",
                   _WORKING, needed=lambda bench: not is_international(bench) and has_earth(bench)),
        _change("equipment_change", "Change of the equipment leakage since acceptance"),
        _change("applied_change", "Change at the applied part since acceptance"),
        _change("touch_change", "Change of the touch current since acceptance"),
    ),
    default_limits=(
        limit("touch_intact", "nfpa99", "Ground intact: no more than 100 µA", (None, 100), "µA", _NFPA, "2012",
              FROM_MEMORY),
        limit("touch_open", "nfpa99", "Ground open: no more than 500 µA", (None, 500), "µA", _NFPA, "2012",
              FROM_MEMORY),
        *(
            limit(key, "nfpa99-2005", "Chassis: no more than 300 µA", (None, 300), "µA",
                  "NFPA 99-2005 chapter 8, as quoted in 24x7mag", "2005", SEEN, note=_CHASSIS_NOTE)
            for key in ("touch_intact", "touch_open")
        ),
    ),
    source=f"{_TABLE}; {_NFPA}",
    evaluate=evaluate_leakage,
    pairs=(
        NeverAbove(("touch_intact", ""), ("touch_open", ""),
                   "An intact ground takes the larger share of the current: the meter shows less than with it open."),
    ),
)  # fmt: skip
