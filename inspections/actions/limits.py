"""Set and end limits of a machine model or a site."""

from inspections.bench import BenchError, UnknownTest, choose_limit, get_test, to_si
from inspections.errors import Refused
from inspections.models import LimitOverride


def set_limit_override(*, test_code, outcome_key, reason, source, from_date, by, at, **fields):
    """Put a limit in force for a machine model or a site. Raise Refused with what is accepted."""
    _refuse_unknown(test_code, outcome_key, fields.get("rule", ""), fields)
    if not reason.strip() or not source.strip():
        raise Refused("A limit of your own needs the reason for it and the source that it rests on.")
    return LimitOverride.objects.create(
        test_code=test_code,
        outcome_key=outcome_key,
        reason=reason.strip(),
        source=source.strip(),
        from_date=from_date,
        by=by,
        at=at,
        **fields,
    )


def end_limit_override(override, *, until_date):
    """End a limit: it is not in force on `until_date` and after."""
    if until_date < override.from_date:
        raise Refused(f"{override} is in force from {override.from_date}; it cannot end before, on {until_date}.")
    LimitOverride.objects.filter(pk=override.pk).update(until_date=until_date)


def _refuse_unknown(test_code, outcome_key, rule, fields):
    try:
        test = get_test(test_code)
        spec = next((spec for spec in test.outcomes if spec.key == outcome_key), None)
        if spec is None:
            raise Refused(
                f"{test.title} has no result “{outcome_key}”; it has {', '.join(s.key for s in test.outcomes)}."
            )
        if rule:
            choose_limit(test.default_limits, outcome_key, rule=rule)
            return
        bounds = [to_si(fields[end], fields["unit"]) for end in ("lower", "upper") if fields.get(end) is not None]
    except (UnknownTest, BenchError, ValueError) as error:
        raise Refused(str(error)) from None
    if not bounds or bounds != sorted(bounds):
        raise Refused("Give a lower limit, an upper limit or both, the lower not above the upper.")
