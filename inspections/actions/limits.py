"""Set and end limits of a machine model or a site."""

from django.db import transaction

from fleet.changes import record_created, recording
from inspections.at_bench.limit_figures import refuse_unfit
from inspections.at_bench.limits_here import confirmation_key
from inspections.deciding.second_person import refuse_alone, why_second_for_limit
from inspections.errors import Refused
from inspections.models import LimitConfirmation, LimitLeft, LimitOverride
from inspections.models.limit_sources import names_something


@transaction.atomic
def set_limit_override(*, test_code, result_key, reason, source, from_date, by, at, proposed_by=None, **fields):
    """Put a limit in force for a machine model or a site. Raise Refused with what is accepted.

    Raise SecondPersonNeeded where a site that it reaches demands one and nobody else proposed it.
    """
    check_limit(test_code=test_code, result_key=result_key, source=source, **fields)
    refuse_unnamed(reason, "reason for it")
    why = why_second_for_limit(machine_model=fields.get("machine_model"), site=fields.get("site"))
    refuse_alone(why, by=by, proposed_by=proposed_by)
    override = LimitOverride.objects.create(
        test_code=test_code,
        result_key=result_key,
        reason=reason.strip(),
        source=source.strip(),
        from_date=from_date,
        by=by,
        at=at,
        **fields,
    )
    record_created([override], by=by, at=at)
    return override


@transaction.atomic
def end_limit_override(override, *, until_date, by, at, reason="", proposed_by=None):
    """End a limit: it is not in force on `until_date` and after. Raise Refused if it has an end already.

    Raise SecondPersonNeeded as for a new limit.
    """
    why = why_second_for_limit(machine_model=override.machine_model, site=override.site)
    refuse_alone(why, by=by, proposed_by=proposed_by)
    if until_date < override.from_date:
        raise Refused(f"{override} is in force from {override.from_date}; it cannot end before that, on {until_date}.")
    with recording(override, by=by, at=at):
        if not LimitOverride.objects.filter(pk=override.pk, until_date=None).update(
            until_date=until_date, ended_reason=reason.strip()[:300]
        ):
            raise Refused(f"The limit {override} already has an end date. Set a new limit if another should apply.")
    override.until_date = until_date


def check_limit(*, test_code, result_key, source, from_date=None, **fields):
    """Raise Refused with what is accepted, for a limit that cannot be set."""
    if (fields.get("machine_model") is None) == (fields.get("site") is None):
        raise Refused("A limit is set either for a machine model or for a site. Choose one of the two.")
    refuse_unfit(test_code, result_key, fields.get("rule", ""), fields)
    refuse_unnamed(source, "source on which it is based")


def refuse_unnamed(text, name):
    """Raise Refused unless the text says something: “none”, “n/a” and the like are neither a reason nor a source."""
    if not names_something(text):
        raise Refused(
            f"A limit of your own needs the {name}; got “{text.strip()}”. Name it, such as the manufacturer's "
            "service manual with edition and page, or the person who decided it and when."
        )


@transaction.atomic
def confirm_limit(site, test_code, limit, *, edition, reason, by, at, proposed_by=None):
    """Confirm for a site that a limit is that of the edition in force there. Raise Refused if it is confirmed already.

    limit  as it judges there, an inspections.bench.Limit

    Signed records keep what they froze. Raise SecondPersonNeeded as for a new limit.
    """
    refuse_unnamed(edition, "publication, edition and page in which it was looked up")
    refuse_unnamed(reason, "reason for it")
    refuse_alone(why_second_for_limit(machine_model=None, site=site), by=by, proposed_by=proposed_by)
    key = confirmation_fields(test_code, limit)
    if LimitConfirmation.objects.in_force().filter(site=site, **key).exists():
        raise Refused(f"{limit.title} is already confirmed for {site}.")
    confirmation = LimitConfirmation.objects.create(
        site=site, **key, edition=edition.strip()[:120], reason=reason.strip()[:300], by=by, at=at
    )
    record_created([confirmation], by=by, at=at)
    return confirmation


@transaction.atomic
def leave_limits_as_proposed(site, limits, *, reason, by, at):
    """Note that limits (LimitAtSite) were looked at and left as proposed; results still say “not confirmed”.

    Return how many. Raise Refused without a reason, without a limit, and for one that was looked at before.
    """
    refuse_unnamed(reason, "reason for it")
    if not limits:
        raise Refused(f"Choose the limits that are left as proposed at {site}.")
    if any(one.confirmation for one in limits) or (
        LimitLeft.objects.in_force().filter(site=site, code__in=[one.code for one in limits]).exists()
    ):
        raise Refused("One of these limits was looked at meanwhile. Look at the list once more.")
    rows = [
        LimitLeft.objects.create(
            site=site, test_code=one.test.code, result_key=one.spec.key, code=one.code, reason=reason.strip()[:300],
            by=by, at=at,
        )
        for one in limits
    ]  # fmt: skip
    record_created(rows, by=by, at=at)
    return len(rows)


@transaction.atomic
def take_back_limit_left(left, *, reason, by, at):
    """Let a limit count as not looked at again. Raise Refused without a reason, and if it was taken back already."""
    refuse_unnamed(reason, "reason for it")
    with recording(left, by=by, at=at):
        if (
            not LimitLeft.objects.in_force()
            .filter(pk=left.pk)
            .update(taken_back_by=by, taken_back_at=at, taken_back_reason=reason.strip()[:300])
        ):
            raise Refused(f"{left} was taken back already.")


@transaction.atomic
def withdraw_confirmation(confirmation, *, reason, by, at, proposed_by=None):
    """Withdraw a confirmation: results are judged as not confirmed from then on. Raise Refused if it was already."""
    refuse_unnamed(reason, "reason for it")
    refuse_alone(why_second_for_limit(machine_model=None, site=confirmation.site), by=by, proposed_by=proposed_by)
    with recording(confirmation, by=by, at=at):
        rows = LimitConfirmation.objects.in_force().filter(pk=confirmation.pk)
        if not rows.update(withdrawn_by=by, withdrawn_at=at, withdrawn_reason=reason.strip()[:300]):
            raise Refused(f"The confirmation of {confirmation} was withdrawn already.")


def confirmation_fields(test_code, limit):
    """The columns of a confirmation that identify the limit."""
    names = ("test_code", "result_key", "rule", "rule_edition", "lower_si", "upper_si")
    return dict(zip(names, (*confirmation_key(test_code, limit), "", "")[:6], strict=True))
