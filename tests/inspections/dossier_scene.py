"""Records that bear a longer interval, the dossier of it, and the runs of its actions for tests/test_changes.py."""

from dataclasses import replace
from datetime import timedelta

from dateutil.relativedelta import relativedelta

import inspections.actions as actions
from fleet.canonical import canonical_json, digest_of
from inspections.models import EvidencePolicy, IntervalDossier, Procedure
from inspections.proposals import ApprovingInterval
from inspections.schedule.interval_data import Asked, first_day_of_data
from tests.factories import (
    NOON,
    TODAY,
    load_all_procedures,
    make_machine,
    make_model,
    make_person,
    make_signed_inspection,
)

LATER = NOON + timedelta(days=1)
SAID = {"most_share": 0.02, "reason": "Nothing was found in years"}


def yearly():
    if not Procedure.objects.exists():
        load_all_procedures()
    return Procedure.objects.get(code="yearly")


def make_fleet(model=None, *, machines=22, by=None):
    """Machines in which three inspections within five years found nothing: 5 machine years each."""
    model = model or make_model()
    procedure, by = yearly(), by or make_person("technician")
    for machine in [make_machine(model=model) for _ in range(machines)]:
        for months in (0, 30, 60):
            at = NOON - relativedelta(months=months) - timedelta(days=5)
            make_signed_inspection(machine, procedure, by=by, at=at)
    return model


def asked(model, **fields):
    usual = Asked(yearly(), model, 15, 14, first_day_of_data(TODAY), TODAY)
    return replace(usual, **fields)


def make_dossier(by, model=None, *, at=NOON, said=SAID, **fields):
    model = model or make_fleet()
    return actions.draft_dossier(asked(model, **fields), by=by, at=at, **said)


def approve(dossier, *, by=None, at=NOON):
    return actions.approve_dossier(dossier, from_date=TODAY, by=by or make_person("manager"), at=at)


EXAMPLE = {
    "procedure": "yearly", "machines": "Norrfell Three", "data": {"from": "2021-11-02", "to": "2026-11-02"},
    "pool": {"words": "Norrfell Three", "reason": "110 machine years of its own are enough.", "pooled": False},
    "observed": {"gaps": 44, "machine_years": 110.0, "failed": 0, "uncoded": 0, "each": [[2.5, False, 44]]},
    "bound": {"years_between": 1.29, "rate": 0.0, "rate_lower": 0.0, "rate_upper": 0.0272, "share": 0.0,
              "share_upper": 0.0173, "at_the_end": 0.0345, "keeps": True},
    "policy": {"code": "essential", "most_share": 0.02, "confidence": 0.95, "source": "common practice, no source"},
    "hours": {"machines": 22, "longer_on": 22, "now": 33.0, "then": 26.4, "freed": 6.6, "without_minutes": 0},
    "reverse": 1,
}  # fmt: skip


def store_dossier(by, model, words="Nothing was found in years"):
    """A draft with made-up evidence, without the inspections behind it."""
    return IntervalDossier.objects.create(
        procedure=yearly(), machine_model=model, interval_months=15, window_days=14,
        data_from=first_day_of_data(TODAY), as_of=TODAY, policy="essential", most_share=0.02, confidence=0.95,
        reason=words, evidence=EXAMPLE, digest=digest_of(canonical_json(EXAMPLE)), drafted_by=by, drafted_at=NOON,
    )  # fmt: skip


def in_force(by):
    dossier = make_dossier(by)
    approve(dossier)
    dossier.refresh_from_db()
    return dossier


def proposal_of(dossier):
    return ApprovingInterval(dossier, from_date=TODAY)


def _watched(by):
    dossier = in_force(by)
    type(dossier).objects.filter(pk=dossier.pk).update(most_share=0.0001)
    return dossier


def store_policy(by, words="Committee 4, 2026-10-12"):
    """A version of the policy of the other class, stored without its proposal."""
    return EvidencePolicy.objects.create(
        code="other", most_share=0.04, confidence=0.95, source=words, reason=words, proposed_by=by,
        by=make_person("manager"), at=NOON,
    )  # fmt: skip


SET = {"most_share": 0.01, "confidence": 0.9, "source": "Committee 4, 2026-10-12", "reason": "Stricter"}
DOSSIER_RUNS = {
    "set_evidence_policy": (
        lambda by: make_person("manager"),
        lambda other, by: actions.set_evidence_policy("essential", **SET, by=by, proposed_by=other, at=LATER),
    ),
    "draft_dossier": (lambda by: make_fleet(), lambda model, by: make_dossier(by, model, at=LATER)),
    "discard_dossier": (
        make_dossier, lambda dossier, by: actions.discard_dossier(dossier, reason="Too few data", by=by, at=LATER)
    ),
    "approve_dossier": (
        lambda by: (make_dossier(by), make_person("manager")),
        lambda made, by: approve(made[0], by=made[1], at=LATER),
    ),
    "watch_dossier": (
        _watched, lambda dossier, by: actions.watch_dossier(dossier, today=LATER.date(), at=LATER)
    ),
}  # fmt: skip
