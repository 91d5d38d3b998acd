"""Questions about recorded protections: what is missing, where it matters."""

from django.db.models import Exists, OuterRef, Q

from fleet.catalogue import FEATURES, absent_needs
from fleet.catalogue.gaps import ESSENTIAL
from fleet.models.querysets.register import DatedPartQuerySet


class FeatureStateQuerySet(DatedPartQuerySet):
    def missing_essential(self, on):
        """Keep what on the date `on` is essential, not fitted, matters on that machine, and is not replaced.

        What matters follows from the machine model, so the models are read first, in one query.
        """
        missing = self.on(on).filter(feature__in=ESSENTIAL, state="not fitted")
        return missing.exclude(_does_not_apply()).exclude(_is_replaced(on)).order_by("feature")


def _does_not_apply():
    """A feature on machines of those models that are known not to need it."""
    from fleet.models import MachineModel

    unneeded = Q(pk__in=[])
    kinds = list(MachineModel.objects.only("gases", "vaporizer_positions", "lacks"))
    for code in ESSENTIAL:
        without = [kind.pk for kind in kinds if absent_needs(FEATURES[code], kind.equipment)]
        if without:
            unneeded |= Q(feature=code, machine__model__in=without)
    return unneeded


def _is_replaced(on):
    """Another feature that does the same job is fitted on the date `on`."""
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
