"""A notice on a lot of regulators, and machines that are, were and may be concerned by it."""

from datetime import date

from inspections.actions import add_criterion, add_notice, match_notice
from inspections.models import SafetyNotice
from tests.factories import NOON, TODAY, make_component, make_machine

FIELDS = {
    "published_by": "Test works", "reference": "FSN-7", "title": "Regulators of some lots may stick",
    "published_on": date(2026, 10, 20), "received_on": date(2026, 10, 26), "answer_by": date(2026, 12, 1),
    "asks": "Replace the regulator.",
}  # fmt: skip
KIND = "pressure-regulator"


def make_notice(by=None, **fields):
    return add_notice(by=by, at=NOON, **{**FIELDS, **fields})


def name(notice, *, by=None, **fields):
    """Add a criterion with defaults: regulators of some lots."""
    return add_criterion(
        notice, by=by, at=NOON, **({"what": "component", "kind": KIND, "lots": "R-20 to R-29"} | fields)
    )


def searched(notice, by=None, at=NOON):
    match_notice(notice, by=by, at=at)
    return SafetyNotice.objects.get(pk=notice.pk)


def regulator(machine=None, **fields):
    return make_component(machine or make_machine(), kind=KIND, **fields)


def answers(notice):
    """Map what each item is to its answer."""
    return {item.key: item.match for item in notice.items.all()}


def removed_regulator(**fields):
    return regulator(removed_on=TODAY, **fields)
