"""What signed results would have been under another limit: how many would change, and which would newly fail."""

from collections import Counter
from dataclasses import dataclass

from django.db.models import Q

from fleet.late import np
from inspections.bench.challenges import Reason
from inspections.bench.decision_words import FAILED
from inspections.bench.limits import Limit
from inspections.bench.many_decisions import ORDER, Measured, decide_many
from inspections.models import Result
from inspections.models.querysets.inspections import SIGNED_STAGES

MOST = 200_000  # results that one request looks at, the newest first
COLUMNS = ("pk", "value", "std_uncertainty", "expanded_uncertainty", "content__dof", "decision")


@dataclass(frozen=True, slots=True)
class Change:
    """How many results had one decision and would have another; `was` is empty for a value that was only reported."""

    was: str
    would_be: str
    count: int

    @property
    def is_kept(self) -> bool:
        return self.was == self.would_be


@dataclass(frozen=True, slots=True)
class UnderOtherLimit:
    """What another limit would have made of signed results.

    judged       how many results were looked at
    left_out     how many more there are, older ones
    unjudgeable  how many no limit can judge: their challenge was not met, or they failed whatever their figure says
    changes      by decision then and under the other limit, those that stay as they are first
    failing      keys of the results that would newly fail, those signed last first
    """

    judged: int
    left_out: int
    unjudgeable: int
    changes: tuple[Change, ...]
    failing: tuple[int, ...]


def under_other_limit(person, test_code: str, limit: Limit, *, most: int = MOST) -> UnderOtherLimit:
    """Decide the signed results that a person sees, of one result of one test, anew under another limit."""
    signed = Result.objects.visible_to(person).filter(
        step__test_code=test_code, key=limit.key, step__inspection__stage__in=SIGNED_STAGES
    )
    can_be_judged = Q(value__isnull=False) & (Q(decision="") | Q(margin__isnull=False))
    for_want_of_closeness = Q(decision="not decided") & Q(content__reason=Reason.TOO_COARSE.value)
    judgeable = signed.filter(can_be_judged).filter(
        ~Q(decision__in=("not tested", "not decided")) | for_want_of_closeness
    )
    count, total = judgeable.count(), signed.count()
    rows = list(judgeable.order_by("-step__inspection__signed_at", "-pk").values_list(*COLUMNS)[:most])
    if not rows:
        return UnderOtherLimit(0, 0, total, (), ())
    decisions = [str(ORDER[number]) for number in decide_many(_measured(rows), limit)]
    pairs = list(zip((row[-1] for row in rows), decisions, strict=True))
    failing = tuple(row[0] for row, (was, now) in zip(rows, pairs, strict=True) if now in FAILED and was not in FAILED)
    return UnderOtherLimit(len(rows), count - len(rows), total - count, _changes(pairs), failing)


def _measured(rows):
    _, values, stds, expanded, dof, _ = zip(*rows, strict=True)
    return Measured.of(values, stds, expanded, [np.inf if one is None else one for one in dof])


def _changes(pairs):
    found = [Change(was, now, count) for (was, now), count in Counter(pairs).items()]
    return tuple(sorted(found, key=lambda one: (not one.is_kept, -one.count, one.was, one.would_be)))
