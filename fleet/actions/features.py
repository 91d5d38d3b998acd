"""Record the states of a machine's safety features."""

from django.db import transaction
from django.db.models import F, Q

from fleet.catalogue import FEATURES
from fleet.changes import record_change
from fleet.errors import FeatureRefused
from fleet.models import Evidence, FeatureState, Machine


@transaction.atomic
def record_feature_state(machine, feature, state, *, from_date, evidence, by, at, note=""):
    """Record that `feature` is in `state` from `from_date` on, until the next recorded change if there is one.

    The period that includes that day ends there; one that began on the same day stays as corrected, and holds on no
    day any more. Raise FeatureRefused if the date is before the machine's first day in the register or after `at`.
    """
    _refuse_impossible_date(machine, from_date, at)
    Machine.objects.select_for_update(no_key=True).get(pk=machine.pk)
    history = FeatureState.objects.filter(machine=machine, feature=feature)
    following = history.filter(from_date__gt=from_date).filter(_holds()).order_by("from_date").first()
    held = history.filter(from_date__lte=from_date).filter(_holds()).order_by("-from_date", "-pk").first()
    history.filter(from_date__lte=from_date).filter(Q(until_date__isnull=True) | Q(until_date__gt=from_date)).update(
        until_date=from_date
    )
    row = FeatureState.objects.create(
        machine=machine,
        feature=feature,
        state=state,
        from_date=from_date,
        until_date=following.from_date if following else None,
        evidence=evidence,
        note=note,
        by=by,
        recorded_at=at,
    )
    record_change(machine, by=by, at=at, before=_told(held), after=_told(row), about=_protection(feature))
    return row


def _protection(code):
    return f"safety feature {FEATURES[code].name}" if code in FEATURES else f"safety feature {code}"


def _told(row):
    """Return the text of a feature state for a change entry; None without one."""
    if row is None:
        return {}
    told = {"State": row.state, "From": row.from_date.isoformat(), "Evidence": Evidence(row.evidence).label}
    return told | ({"Note": row.note} if row.note else {})


def _holds():
    return Q(until_date__isnull=True) | Q(until_date__gt=F("from_date"))


def _refuse_impossible_date(machine, from_date, at):
    today = machine.site.date_of(at)
    if not machine.in_use_from <= from_date <= today:
        raise FeatureRefused(
            f"{from_date} is outside the period of the register for machine {machine}. "
            f"Enter a date from {machine.in_use_from} to {today}."
        )
