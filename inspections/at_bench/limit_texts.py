"""Limits in words."""

from fleet.drawing import number
from fleet.place_format import current, quantity_text, shown_unit
from inspections.bench import TESTS, Limit, from_si


def limit_text(limit: Limit):
    """“at least 25 psi gauge and at most 30 psi gauge”; yes/no as “required” or “not allowed”."""
    if limit.unit == "yes/no":
        return "required" if limit.lower_si is not None else "not allowed"
    words = ("above", "below") if limit.strict else ("at least", "at most")
    ends = zip(words, (limit.lower_si, limit.upper_si), strict=True)
    unit = shown_unit(limit.unit, current())
    return " and ".join(f"{word} {number(from_si(end, unit))} {unit}" for word, end in ends if end is not None)


def built_text(limit: Limit):
    """For which years of build the limit is, empty for all."""
    if limit.built_from and limit.built_before:
        return f"built {limit.built_from} to {limit.built_before - 1}"
    if limit.built_from:
        return f"built {limit.built_from} or later"
    return f"built before {limit.built_before}" if limit.built_before else ""


def override_text(override):
    """What a limit set here demands."""
    if override.rule:
        test = TESTS.get(override.test_code)
        named = next((one for one in test.default_limits if one.rule == override.rule), None) if test else None
        return f"by the rule “{named.title if named else override.rule}”"
    ends = (("at least", override.lower), ("at most", override.upper))
    given = ((word, quantity_text(value, override.unit, current())) for word, value in ends if value is not None)
    return " and ".join(f"{word} {text}" for word, text in given)


def result_text(test_code, result_key):
    """Title of the test and label of the result; the codes if the test is not known any more."""
    test = TESTS.get(test_code)
    spec = next((one for one in test.results if one.key == result_key), None) if test else None
    return (test.title, spec.label) if spec else (test_code, result_key)
