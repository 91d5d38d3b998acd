"""A limit as a person enters it: by a published rule, or by figures of one's own; checked, and as bench Limit."""

from fleet.catalogue.plausibility import value_problem
from inspections.bench import UNITS, BenchError, Limit, UnknownTest, choose_limit, dimension_of, get_test, to_si
from inspections.bench.limits import LOCAL
from inspections.errors import Refused

TRIED = "tried"


def refuse_unfit(test_code, result_key, rule, fields):
    """Raise Refused with what is accepted, unless the test has the result, and the rule or the figures are of it.

    fields  `lower`, `upper` and `unit` where no rule is named
    """
    try:
        test = get_test(test_code)
        spec = next((spec for spec in test.results if spec.key == result_key), None)
        if spec is None:
            raise Refused(
                f"{test.title} has no result “{result_key}”; it has {', '.join(s.key for s in test.results)}."
            )
        if rule:
            choose_limit(test.default_limits, result_key, rule=rule)
            return
        if dimension_of(fields.get("unit", "")) != spec.dimension:
            units = ", ".join(UNITS[spec.dimension])
            raise Refused(
                f"{spec.label} is a {spec.dimension}; “{fields['unit']}” does not measure that. Accepted: {units}."
            )
        for end in ("lower", "upper"):
            value, unit = fields.get(end), fields["unit"]
            if value is not None and (problem := value_problem(value, unit)):
                raise Refused(f"{spec.label}: {problem.of(f'{value:g} {unit}')}")
        bounds = [to_si(fields[end], fields["unit"]) for end in ("lower", "upper") if fields.get(end) is not None]
    except (UnknownTest, BenchError, ValueError) as error:
        raise Refused(str(error)) from None
    if not bounds or bounds != sorted(bounds):
        raise Refused("Give a lower limit, an upper limit or both, the lower not above the upper.")


def tried_limit(test_code, result_key, rule, fields):
    """Return the limit that is only tried, as `refuse_unfit` takes it. Raise Refused as that does."""
    refuse_unfit(test_code, result_key, rule, fields)
    if rule:
        return choose_limit(get_test(test_code).default_limits, result_key, rule=rule)
    ends = [None if fields.get(end) is None else to_si(fields[end], fields["unit"]) for end in ("lower", "upper")]
    return Limit(result_key, TRIED, "Limit that is tried", *ends, fields["unit"], "entered on a page", "-", LOCAL)
