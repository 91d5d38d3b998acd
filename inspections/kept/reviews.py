"""The retirement review of every machine, kept for one day, so that the page does not judge the whole fleet.

A review depends on the day: its window moves, support comes nearer to its end. So the nightly job makes all of them for
the new day, and until it has, a page computes what it shows.
"""

from dataclasses import astuple
from functools import cache, partial
from hashlib import sha256

from django.db import DEFAULT_DB_ALIAS, transaction

from fleet.acting.keys import only_condition
from fleet.catalogue.feature_bits import rules_digest
from fleet.models import FeatureState, Machine, MachineCover, MachineModel, Site, StatusChange
from inspections.kept.keeping import Kind, day_kept, holds, renew
from inspections.kept.ways import itself, machines_with, moving, of_rows, values_of
from inspections.models import CriterionJudgement, Finding, Inspection, KeptReview, ReviewWeights
from inspections.models.querysets.kept_rows import STEP_COLUMNS
from inspections.retirement.gathering import facts_without_evidence
from inspections.retirement.weights import weights_of_sites
from inspections.review import CRITERIA, HAZARD_WEIGHTS, PARTS, review
from inspections.review.ranking import rank_key

RULES = 1  # to be raised with every change of inspections/review or of what is gathered for it that changes a place
FEW = 20  # machines, up to which one query with their places takes less time than one for each kind of place
SIGNS = (1, -1, -1, -1, -1, -1, 1, -1, -1)  # the figures of `rank_key` are smaller for the worse machine


def reviews_hold(day):
    """Return whether the kept reviews are those of `day`, all of them; two queries."""
    return holds(REVIEWS, day) and not KeptReview.objects.not_of(day).exists()


def computed(machines, day, using):
    scope = Machine.objects.using(using).not_retired().filter(**only_condition("pk", machines))
    places = ("model", "area__site")  # for many machines each place is read once, not with each machine
    found = scope.order_by().prefetch_related(*places) if len(machines) > FEW else scope.select_related(*places)
    if not (found := list(found)):
        return {}
    weighed = weights_of_sites({machine.site for machine in found})
    covers = dict(
        MachineCover.objects.using(using).filter(**only_condition("machine", machines)).values_list("machine", "cover")
    )
    rows, known = {}, {}
    for machine, facts in zip(found, facts_without_evidence(scope, found, day), strict=True):
        alike = (facts.all_but_name, machine.site.pk)
        if alike not in known:
            known[alike] = _figures(review(facts), weighed[machine.site.pk].weights)
        rows[machine.pk] = KeptReview(
            machine_id=machine.pk, asset_number=machine.asset_number, site_id=machine.area.site_id,
            area_id=machine.area_id, model_id=machine.model_id, day=day, cover=covers.get(machine.pk), **known[alike],
        )  # fmt: skip
    return rows


def _figures(review, weights):
    """Return the columns of a row that follow from the review."""
    key = (abs(figure) if sign < 0 else figure for figure, sign in zip(rank_key(review, weights), SIGNS, strict=True))
    return dict(zip(STEP_COLUMNS, key, strict=True)) | {
        "is_provisional": review.is_provisional,
        "met_absolute": _codes(review.absolute_met),
        "met_relative": _codes(review.relative_met),
        "open_questions": _codes(review.open_questions),
    }


def _codes(answers):
    return ",".join(answer.criterion.code for answer in answers)


@cache
def rules():
    """Return the digest of criteria, weights of the program and rules of features."""
    told = (
        [astuple(one) for one in CRITERIA.values()], [astuple(one) for one in PARTS.values()],
        sorted(HAZARD_WEIGHTS.items()), rules_digest(), RULES,
    )  # fmt: skip
    return sha256(repr(told).encode()).hexdigest()[:16]


def _of_weights(before, using):
    sites = values_of(ReviewWeights, "pk", before, "site", using)
    return values_of(Machine, "area__site", sites, "pk", using)


REVIEWS = Kind(
    name="reviews",
    model=KeptReview,
    computed=computed,
    ways={
        CriterionJudgement: of_rows(CriterionJudgement, "machine"),
        FeatureState: of_rows(FeatureState, "machine"),
        Finding: moving(Finding),
        Inspection: of_rows(Inspection, "machine"),
        Machine: itself,
        MachineModel: machines_with("model"),
        ReviewWeights: _of_weights,
        Site: machines_with("area__site"),
        StatusChange: of_rows(StatusChange, "machine"),
    },
    rules=rules,
    is_dated=True,
)


def after_circuits(machines, using=DEFAULT_DB_ALIAS):
    """Mark the reviews of machines that have another computed circuit; they are renewed once it is stored."""
    if KeptReview.objects.using(using).filter(machine__in=machines).exclude(day=None).update(day=None):
        transaction.on_commit(partial(renew_marked, using), using=using)


def after_cover(sender, instance, using, **kwargs):
    """Mark the reviews that rest on a circuit that was computed anew."""
    if KeptReview.objects.using(using).filter(cover=instance.pk).update(day=None):
        transaction.on_commit(partial(renew_marked, using), using=using)


def renew_marked(using):
    day = day_kept(REVIEWS, using)
    marked = list(KeptReview.objects.using(using).filter(day=None).values_list("pk", flat=True))
    if marked and day is not None:
        renew(REVIEWS, marked, day, using)
