"""Several sets of readings of one step of an inspection, as found and as left: conditions on results for querysets."""

from django.apps import apps
from django.db.models import Exists, OuterRef, Q
from django.db.models.functions import Coalesce

from inspections.bench.decision_words import FAILED, JUDGED_WORST_FIRST


def results_of(**path):
    """The results of an outer row; looked up by name, since their model imports the modules that use this."""
    return apps.get_model("inspections", "Result").objects.filter(**path)


def not_judged_again():
    """For steps: whether an earlier set judged a result that this set does not judge.

    The first set and those between are asked for apart: of both in one condition a database reads every result.
    """
    again = results_of(step=OuterRef(OuterRef("pk")), key=OuterRef("key"), decision__in=JUDGED_WORST_FIRST)
    earlier = results_of(step__set_number__lt=OuterRef("set_number")).exclude(decision="").filter(~Exists(again))
    first, between = (earlier.filter(**{path: OuterRef("as_left_of")}) for path in ("step", "step__as_left_of"))
    return Q(as_left_of__isnull=False) & (Exists(first) | Exists(between))


def that_decides():
    """For results: whether a decision about the inspection rests on it.

    It is of the last set of readings of its step, or it failed and no later set judged the same result.
    """
    later = results_of(
        step__as_left_of=Coalesce(OuterRef("step__as_left_of"), OuterRef("step")),
        step__set_number__gt=OuterRef("step__set_number"),
        key=OuterRef("key"),
        decision__in=JUDGED_WORST_FIRST,
    )
    return Q(step__is_last=True) | (Q(decision__in=FAILED) & ~Exists(later))


def failed_before():
    """For results: whether the same result failed already in an earlier set of readings of the step."""
    root = Coalesce(OuterRef("step__as_left_of"), OuterRef("step"))
    earlier = results_of(key=OuterRef("key"), decision__in=FAILED, step__set_number__lt=OuterRef("step__set_number"))
    first, between = (earlier.filter(**{path: root}) for path in ("step", "step__as_left_of"))
    return Q(step__set_number__gt=1) & (Exists(first) | Exists(between))


def passes_as_left():
    """For findings: whether the step whose result failed was repaired in the same inspection, which then proves all of
    its essential steps, and whether each judged result of the last set of readings is a pass.
    """
    steps = apps.get_model("inspections", "InspectionStep").objects
    untested = steps.filter(inspection=OuterRef("inspection")).essential_untested()
    root = Coalesce(OuterRef("result__step__as_left_of"), OuterRef("result__step"))
    last = steps.settled().filter(as_left_of=root).filter(~Exists(untested))
    other = results_of(step=OuterRef("pk")).exclude(decision__in=("", "pass"))
    return Q(result__step__is_last=False) & Exists(last.filter(~Exists(other)))
