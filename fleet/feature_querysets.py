"""Queries about recorded features: which are missing where they apply."""

from django.db.models import Exists, OuterRef, Q

from fleet.catalogue import FEATURES, absent_needs
from fleet.gaps import ESSENTIAL
from fleet.querysets import DatedPartQuerySet


class FeatureStateQuerySet(DatedPartQuerySet):
    def missing_essential(self, on):
        """Return states that on the date `on` are essential, not fitted, applicable to the machine, and not replaced.

        The machine model decides what applies, so the models are read first, in one query.
        """
        missing = self.on(on).filter(feature__in=ESSENTIAL, state="not fitted")
        return missing.exclude(_does_not_apply()).exclude(_is_replaced(on)).order_by("feature")


def _does_not_apply():
    """Return the condition that the model is known not to need the feature."""
    from fleet.models import MachineModel

    unneeded = Q(pk__in=[])
    kinds = list(MachineModel.objects.only("gases", "vaporizer_positions", "lacks"))
    for code in ESSENTIAL:
        without = [kind.pk for kind in kinds if absent_needs(FEATURES[code], kind.equipment)]
        if without:
            unneeded |= Q(feature=code, machine__model__in=without)
    return unneeded


def _is_replaced(on):
    """Return the condition that a feature which replaces this one is fitted on the date `on`."""
    from fleet.models import FeatureState

    replaced = Q(pk__in=[])
    for code in ESSENTIAL:
        stand_ins = FEATURES[code].fulfilled_by
        if stand_ins:
            fitted = FeatureState.objects.on(on).filter(
                machine=OuterRef("machine"), feature__in=stand_ins, state="fitted"
            )
            replaced |= Q(feature=code) & Exists(fitted)
    return replaced
