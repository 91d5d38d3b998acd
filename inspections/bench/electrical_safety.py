"""What the tests of electrical safety share: choices, whose rules they follow, the reference value of acceptance."""

from dataclasses import replace

from .challenges import Reason, Unmet
from .decisions import Decision
from .declarations import ChoiceSpec, Wanted
from .measuring import Bench
from .propagation import Measured
from .results import Result
from .specs import NEVER_ON_A_PATIENT
from .uncertainty import Estimate, coverage_factor, excess_of

CLASS = ChoiceSpec(
    "protection_class", "Class of the machine", (("I", "class I: protective earth"), ("II", "class II: no earth")), "I"
)
_BY_IEC, _BY_NFPA = "international", "us"
RULES = ChoiceSpec(
    "rules", "Rules of the test", ((_BY_IEC, "IEC 62353, international"), (_BY_NFPA, "NFPA 99, United States")), _BY_IEC
)
APPLIED = ChoiceSpec(
    "applied_part", "Applied part",
    (("none", "none"), ("B", "type B"), ("BF", "type BF, isolated"), ("CF", "type CF, isolated, for the heart")),
    "none", wanted=((("rules", _BY_IEC),),),
)  # fmt: skip
ISOLATED = ("BF", "CF")

CAUTIONS = (
    NEVER_ON_A_PATIENT,
    "Disconnect the machine from every patient and take it out of the clinical area before anything is connected.",
    "Mains and test voltages can kill: touch nothing while the tester gives them, keep others away, and test an earth "
    "that is in doubt before mains is applied. Only for persons licensed to test electrical safety.",
)

IEC = "iec62353"
EARTH_SOURCE = "IEC 62353:2014 (text at freestandardssearch.mealir.com p=567)"
EDITION = "2014"


def together(*pairs: tuple[str, str]) -> Wanted:
    """Return what is wanted with these options of several choices at once."""
    return (pairs,)


def is_international(bench: Bench) -> bool:
    return bench.choice("rules") == _BY_IEC


def has_earth(bench: Bench) -> bool:
    return bench.choice("protection_class") == "I"


def has_isolated_part(bench: Bench) -> bool:
    return is_international(bench) and bench.choice("applied_part") in ISOLATED


def at_acceptance(bench: Bench, key: str) -> Measured | None:
    """Return a reference value of acceptance: years lie between, so it shares no error with what is read now."""
    found = bench.value(key)
    return None if found is None else replace(found, scale=None)


def answered(bench: Bench, key: str, unknown: str, no: str) -> Unmet | None:
    """Return in what way a condition that a person states was not met: it is not known, or it was denied."""
    answer = bench.value(key)
    if answer is None:
        return Unmet(unknown, Reason.NOT_KNOWN)
    return None if answer.value else Unmet(no)


NEAR_LIMIT = 0.9  # of the limit. IEC 62353, from memory
CLEAR_SHARE = 0.1  # of the limit, by which a value is clearly above its reference value; common practice, no source
CLEAR_FALL = 0.5  # of its reference value, below which an insulation has clearly fallen; common practice, no source
SHORTER = "repeat the measurement after a shorter interval."


def watched(result: Result, reference: float | None = None, change: Estimate | None = None) -> Result:
    """Return a result with a remark where it passes and yet calls for a repeated measurement.

    reference, change  the reference value of acceptance in SI and the change since; an upper limit: a rise counts
    """
    limit = result.limit
    if limit is None or result.decision not in (Decision.PASS, Decision.CONDITIONAL_PASS):
        return result
    value, is_lower = result.value_si, limit.upper_si is None
    is_near = value < limit.lower_si / NEAR_LIMIT if is_lower else value > NEAR_LIMIT * limit.upper_si
    words = [f"Within 10 % of the limit: {SHORTER}"] if is_near else []
    if change is not None and _is_clear(value, reference, change, limit.upper_si):
        side = "below" if is_lower else "above"
        words.append(f"Clearly {side} the reference value of acceptance: find out why, and {SHORTER}")
    return replace(result, remark=" ".join([result.remark, *words]).strip())


def _is_clear(value: float, reference: float, change: Estimate, upper: float | None) -> bool:
    """Return whether a change is beyond its uncertainty, and large enough to matter."""
    expanded = coverage_factor(change.dof, excess=excess_of(change)) * change.std_uncertainty
    if upper is None:
        return -change.value > expanded and value < CLEAR_FALL * reference
    return change.value > max(expanded, CLEAR_SHARE * upper)
