"""Protective earth and insulation resistance, before mains is applied: electrical safety in two tests, the first."""

from collections.abc import Sequence
from dataclasses import replace

from .challenges import Challenge, NoChallenge, Reason, Unmet, first_unmet
from .declarations import ChoiceSpec, Context, ResultSpec, Test
from .electrical_safety import (
    APPLIED,
    CAUTIONS,
    CLASS,
    EARTH_SOURCE,
    EDITION,
    IEC,
    ISOLATED,
    RULES,
    answered,
    at_acceptance,
    has_earth,
    has_isolated_part,
    is_international,
    together,
    watched,
)  # fmt: skip
from .impossible import NeverAbove
from .limits import FROM_MEMORY, SEEN, Limit
from .measuring import Bench
from .propagation import Measured, difference, propagate_measured
from .quantities import Dimension, from_si
from .readings import Sheet
from .results import Evaluation, Result
from .specs import limit, observation, reading, with_option

LEAST_CURRENT = 0.2  # A; less does not break through oxide films. IEC 62353:2014, seen
MOST_CURRENT = 25.0  # A; IEC 62353:2014, seen
TEST_VOLTAGE = 500.0  # V d.c.; IEC 62353:2014, from memory
SET_CLOSELY = 0.99  # of a current or voltage that the tester sets by itself

_EARTH = ("earth_total", "earth_device", "earth_cord")


def evaluate_earth_and_insulation(sheet: Sheet, context: Context) -> Evaluation:
    """Return resistance of the earth path, each length of it apart where asked, and of the insulation."""
    bench = Bench(TEST, sheet, context)
    results = _earth(bench) if has_earth(bench) else _no_earth(bench)
    if is_international(bench):
        results += _insulation(bench)
    return bench.finish(results)


def _no_earth(bench: Bench) -> list[Result]:
    if any(bench.sheet.values.get(key) for key in _EARTH):
        bench.remarks.append("A class II machine has no protective earth: no resistance of it is judged.")
    elif not is_international(bench):
        bench.remarks.append("Nothing of this test applies: a class II machine has no protective earth.")
    return []


def _is_dc(bench: Bench) -> bool:
    return bench.choice("earth_supply") == "dc"


def _is_apart(bench: Bench) -> bool:
    """Whether the cord comes off, so that machine and cord are judged apart."""
    return has_earth(bench) and is_international(bench) and bench.choice("cord") == "detachable"


def _worse_way(bench: Bench, key: str, *, needed: bool = False) -> Measured | None:
    """Return a resistance; of the two directions of a direct current the higher."""
    found = [bench.value(key, needed=needed), bench.value(f"{key}_reversed") if _is_dc(bench) else None]
    return max((one for one in found if one is not None), key=lambda one: one.value, default=None)


def _earth(bench: Bench) -> list[Result]:
    bench.value("cord_moved")
    _note_high_current(bench)
    lengths = [_worse_way(bench, key) if _is_apart(bench) else None for key in ("earth_device", "earth_cord")]
    total = _worse_way(bench, "earth_total", needed=None in lengths)
    results = [
        watched(bench.result(key, found.estimate))
        for key, found in zip(("earth_device", "earth_cord"), lengths, strict=True)
        if found is not None
    ]
    path = [total] if total is not None else lengths
    return results if None in path else [*_whole_path(bench, path), *results]


def _note_high_current(bench: Bench) -> None:
    current = bench.value("test_current", nominal=True)
    if current is not None and current.value > MOST_CURRENT:
        bench.remarks.append(f"The test current of {current.value:.3g} A is above the 25 A that IEC 62353 allows.")


def _whole_path(bench: Bench, path: Sequence[Measured]) -> list[Result]:
    """Return the resistance from plug to case and its change; path is one reading, or those of machine and cord."""
    found = propagate_measured(lambda *lengths: sum(lengths), path)
    if not is_international(bench):
        key, convention = "ground_resistance", ""
    else:
        key, convention = "earth_total", "" if len(path) == 1 else "machine alone + cord alone, measured one by one"
    reference = at_acceptance(bench, "earth_reference")
    result = bench.result(key, found, convention=convention)
    if reference is None:
        return [watched(result)]
    change = propagate_measured(lambda then, *lengths: sum(lengths) - then, (reference, *path))
    return [watched(result, reference.value, change), bench.result("earth_change", change)]


def _insulation(bench: Bench) -> list[Result]:
    bench.value("test_voltage", nominal=True)
    bench.value("switched_on")
    found, reference = bench.value("insulation", needed=True), at_acceptance(bench, "insulation_reference")
    results = []
    if found is not None:
        result = bench.result("insulation", found.estimate, limit=insulation_limit(bench.choice("protection_class")))
        change = None if reference is None else difference(found, reference)
        results.append(watched(result, reference.value if reference else None, change))
        results += [] if change is None else [bench.result("insulation_change", change)]
    applied = bench.value("insulation_applied") if has_isolated_part(bench) else None
    return results if applied is None else [*results, watched(bench.result("insulation_applied", applied.estimate))]


_LEAST_INSULATION = {"I": 2.0, "II": 7.0}  # MΩ


def insulation_limit(protection_class: str) -> Limit:
    """Return the limit of the insulation between mains and what can be touched, by class."""
    least = _LEAST_INSULATION[protection_class]
    return limit(
        "insulation", IEC, f"Class {protection_class}: at least {least:g} MΩ", (least, None), "MΩ",
        f"IEC 62353, insulation at 500 V d.c., row of class {protection_class}", EDITION, FROM_MEMORY,
    )  # fmt: skip


def _enough_current(bench: Bench) -> Unmet | None:
    current = bench.value("test_current")
    if current is None:
        return Unmet("The test current is not stated; it must be 200 mA or more.", Reason.NOT_KNOWN, fail_stands=False)
    if current.value >= LEAST_CURRENT * SET_CLOSELY:
        return None
    shown = from_si(current.value, "mA")
    why = f"The test current was {shown:.3g} mA: with less than 200 mA a film on a contact can look like a break, or "
    return Unmet(f"{why}hide one.", fail_stands=False)


def _both_ways(*keys: str):
    """Return a check that a direct current went both ways through each of what was read of these."""

    def check(bench: Bench) -> Unmet | None:
        given = [key for key in keys if bench.sheet.values.get(key) is not None]
        if _is_dc(bench) and any(bench.sheet.values.get(f"{key}_reversed") is None for key in given or keys):
            return Unmet("A direct current was passed one way only: read with both polarities, the higher counts.")
        return None

    return check


def _whole_both_ways(bench: Bench) -> Unmet | None:
    is_read = any(bench.sheet.values.get(key) is not None for key in ("earth_total", "earth_total_reversed"))
    return _both_ways("earth_total")(bench) if is_read else _both_ways("earth_device", "earth_cord")(bench)


def _cord_moved(bench: Bench) -> Unmet | None:
    return answered(
        bench, "cord_moved", "Whether the cord was moved is not stated: a broken strand shows only when it is bent.",
        "The cord was not moved along its length: a broken strand shows only when it is bent.",
    )  # fmt: skip


_PATH = first_unmet(_enough_current, _whole_both_ways, _cord_moved)
_PATH_WORDS = "200 mA or more, both ways if d.c., while the cord is moved along its length"


def _enough_voltage(bench: Bench) -> Unmet | None:
    voltage = bench.value("test_voltage")
    if voltage is None:
        return Unmet("The test voltage is not stated; it must be 500 V d.c.", Reason.NOT_KNOWN)
    if voltage.value >= TEST_VOLTAGE * SET_CLOSELY:
        return None
    return Unmet(f"The test voltage was {voltage.value:.3g} V: a weak insulation shows at 500 V d.c.")


def _switched_on(bench: Bench) -> Unmet | None:
    return answered(
        bench, "switched_on", "Whether the mains switches were on is not stated.",
        "The mains switches were not all on: only the cord and what lies before the switch was tested.",
    )  # fmt: skip


_STRESSED = Challenge("500 V d.c. with all mains switches on", first_unmet(_enough_voltage, _switched_on))

_CLASS_I = with_option("protection_class", "I")
_APART = (("rules", "international"), ("protection_class", "I"), ("cord", "detachable"))
_DC = ("earth_supply", "dc")
_IEC_ONLY = with_option("rules", "international")
_F_ONLY = tuple((("rules", "international"), ("applied_part", kind)) for kind in ISOLATED)
_REFERENCE = "It is the reference value of acceptance: the change since is reported, and the value itself judged."
_CHANGE = "No limit of the change is published that could be looked up; a clear change is remarked on."
_AGAINST = NoChallenge("the reading that it compares is challenged")
_NFPA = "NFPA 99-2005 chapter 8, as quoted in 24x7mag"


def _ohms(key: str, label: str, judges: Sequence[str], wanted, **more):
    more = {"first": "Ω", "required": False, "asked": True, **more}
    return reading(key, label, Dimension.RESISTANCE, judges=tuple(judges), wanted=wanted, **more)


_SUM = ("earth_total", "ground_resistance", "earth_change")

TEST = Test(
    code="earth-and-insulation",
    family="electrical safety",
    title="Protective earth and insulation",
    purpose=(
        "Measure the protective earth from the pin of the plug to every metal that can be touched, then the "
        "insulation between mains and earth, both before leakage currents are measured with mains. Clip to bare metal, "
        "not to paint or a hinge, and zero the leads first: a lead of 50 mΩ left in looks like a worn earth. An earth "
        "that comes through another cord, a gas hose with metal braid or a rail hides a break: disconnect them."
    ),
    cautions=(
        *CAUTIONS,
        "Disconnect signal cables and other machines on the same trolley: they are paths of their own, and 500 V can "
        "harm them. Let capacitors discharge after the insulation test.",
    ),
    readings=(
        _ohms("earth_total", "Earth resistance, plug to case with the cord", _SUM, _CLASS_I,
              help="the highest value while the cord is bent along its whole length; the point of the case that is "
                   "farthest counts"),
        _ohms("earth_total_reversed", "Plug to case, polarity reversed", _SUM,
              together(("protection_class", "I"), _DC)),
        _ohms("earth_device", "Machine alone, inlet to case", ("earth_device", *_SUM), (_APART,),
              help="earth pin of the inlet to the case, cord off"),
        _ohms("earth_device_reversed", "Machine alone, polarity reversed", ("earth_device", *_SUM), ((*_APART, _DC),)),
        _ohms("earth_cord", "Cord alone", ("earth_cord", *_SUM), (_APART,),
              help="pin of the plug to the earth contact of the connector, while the cord is moved"),
        _ohms("earth_cord_reversed", "Cord alone, polarity reversed", ("earth_cord", *_SUM), ((*_APART, _DC),)),
        reading("test_current", "Test current", Dimension.CURRENT, required=False, asked=True, stated=True,
                help="as the tester states it; 200 mA or more from no more than 24 V, at most 25 A",
                judges=(*_EARTH, "ground_resistance"), wanted=_CLASS_I),
        replace(observation("cord_moved", "Was the cord moved along its length while this was read?", required=False,
                            asked=True, judges=("earth_total", "earth_cord", "ground_resistance"),
                            help="above all at the plug and where it enters the machine"), wanted=_CLASS_I),
        _ohms("earth_reference", "Earth resistance at acceptance, plug to case", (), _CLASS_I, asked=False, stated=True,
              unjudged=_REFERENCE, help="the first measurement with the same cord"),
        _ohms("insulation", "Insulation resistance, mains to earth or case", ("insulation", "insulation_change"),
              _IEC_ONLY, first="MΩ",
              help="line and neutral together against the earth of class I, the touchable metal of class II; above the "
                   "range of the tester enter the end of its range"),
        _ohms("insulation_applied", "Insulation resistance, mains to applied part", ("insulation_applied",), _F_ONLY,
              first="MΩ"),
        reading("test_voltage", "Test voltage of the insulation", Dimension.VOLTAGE, required=False, asked=True,
                stated=True, help="d.c., as the tester states it", judges=("insulation", "insulation_applied"),
                wanted=_IEC_ONLY),
        replace(observation("switched_on", "Were all mains switches on during the insulation test?", required=False,
                            asked=True, judges=("insulation", "insulation_applied"),
                            help="a machine that only a relay connects with mains cannot be tested beyond the relay: "
                                 "answer no"), wanted=_IEC_ONLY),
        _ohms("insulation_reference", "Insulation resistance at acceptance", (), _IEC_ONLY, first="MΩ", asked=False,
              stated=True, unjudged=_REFERENCE),
    ),
    tables=(),
    choices=(
        RULES,
        CLASS,
        ChoiceSpec("cord", "Mains cord", (("fixed", "fixed to the machine"), ("detachable", "detachable")), "fixed",
                   wanted=together(("rules", "international"), ("protection_class", "I"))),
        ChoiceSpec("earth_supply", "Current of the earth test", (("ac", "alternating"), ("dc", "direct")), "ac",
                   wanted=_CLASS_I),
        APPLIED,
    ),
    rated=(),
    results=(
        ResultSpec("earth_total", "Protective earth, plug to case", Dimension.RESISTANCE, "mΩ",
                   "as read, the higher polarity if d.c.; resistance of the leads taken off by the tester",
                   Challenge(_PATH_WORDS, _PATH),
                   needed=lambda bench: has_earth(bench) and is_international(bench)),
        ResultSpec("earth_device", "Protective earth, machine alone", Dimension.RESISTANCE, "mΩ",
                   "inlet to case, the higher polarity if d.c.",
                   Challenge("200 mA or more, both ways if d.c.",
                             first_unmet(_enough_current, _both_ways("earth_device"))), needed=_is_apart),
        ResultSpec("earth_cord", "Protective earth, cord alone", Dimension.RESISTANCE, "mΩ",
                   "end to end, the higher polarity if d.c.",
                   Challenge(_PATH_WORDS, first_unmet(_enough_current, _both_ways("earth_cord"), _cord_moved)),
                   needed=_is_apart),
        ResultSpec("ground_resistance", "Ground resistance, plug to chassis", Dimension.RESISTANCE, "Ω",
                   "as read, the higher polarity if d.c.; resistance of the leads taken off by the tester",
                   Challenge(_PATH_WORDS, _PATH),
                   needed=lambda bench: has_earth(bench) and not is_international(bench)),
        ResultSpec("earth_change", "Change of the earth since acceptance", Dimension.RESISTANCE, "mΩ",
                   "now minus at acceptance", _AGAINST, unjudged=_CHANGE),
        ResultSpec("insulation", "Insulation, mains to earth or case", Dimension.RESISTANCE, "MΩ",
                   "line and neutral together, 500 V d.c.", _STRESSED, needed=is_international, own_limit=True),
        ResultSpec("insulation_applied", "Insulation, mains to applied part", Dimension.RESISTANCE, "MΩ",
                   "line and neutral together against the applied part, 500 V d.c.", _STRESSED,
                   needed=has_isolated_part),
        ResultSpec("insulation_change", "Change of the insulation since acceptance", Dimension.RESISTANCE, "MΩ",
                   "now minus at acceptance", _AGAINST, unjudged=_CHANGE),
    ),
    default_limits=(
        *(
            limit(key, IEC, f"{words}: no more than {most} mΩ", (None, most), "mΩ", EARTH_SOURCE, EDITION, SEEN)
            for key, words, most in (("earth_total", "Plug to case", 300), ("earth_device", "Machine alone", 200),
                                     ("earth_cord", "Cord alone", 100))
        ),
        limit("ground_resistance", "nfpa99", "Less than 0.50 Ω", (None, 0.5), "Ω", _NFPA, "2005", SEEN, strict=True,
              note="It is measured while the cord is flexed."),
        limit("insulation_applied", IEC, "Isolated applied part: at least 70 MΩ", (70, None), "MΩ",
              "IEC 62353, insulation at 500 V d.c., row of mains to applied part", EDITION, FROM_MEMORY),
    ),
    source=f"{EARTH_SOURCE}; NFPA 99",
    evaluate=evaluate_earth_and_insulation,
    pairs=(
        NeverAbove(("earth_device", ""), ("earth_total", ""), "The machine alone is a length of the whole earth path."),
        NeverAbove(("earth_cord", ""), ("earth_total", ""), "The cord alone is a length of the whole earth path."),
    ),
)  # fmt: skip
