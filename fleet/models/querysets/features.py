"""Queries about recorded features: which are missing where they apply."""

from django.apps import apps
from django.db.models import Exists, OuterRef, Q

from fleet.catalogue import FEATURES, absent_needs
from fleet.catalogue.gaps import ESSENTIAL
from fleet.models.querysets.scoped import DatedRowQuerySet


class FeatureStateQuerySet(DatedRowQuerySet):
    def by_machine(self, machines, on) -> dict[int, dict[str, str]]:
        """Return the states of all features on the day `on` by machine and code, for a list of machines; one query."""
        found = {machine.pk: {} for machine in machines}
        rows = self.on(on).filter(machine__in=list(found)).order_by()
        for machine, feature, state in rows.values_list("machine", "feature", "state"):
            found[machine][feature] = state
        return found

    def missing_essential(self, on):
        """Return states that on the date `on` are essential, not fitted, applicable to the machine, and not replaced.

        The machine model decides what applies, so the models are read first, in one query.
        """
        missing = self.on(on).filter(feature__in=ESSENTIAL, state="not fitted")
        return missing.exclude(_does_not_apply()).exclude(_is_replaced(on)).order_by("feature")


def _does_not_apply():
    """Return the condition that the model is known not to need the feature."""
    MachineModel = apps.get_model("fleet", "MachineModel")
    unneeded = Q(pk__in=[])
    kinds = list(MachineModel.objects.only("gases", "vaporizer_positions", "lacks"))
    for code in ESSENTIAL:
        without = [kind.pk for kind in kinds if absent_needs(FEATURES[code], kind.equipment)]
        if without:
            unneeded |= Q(feature=code, machine__model__in=without)
    return unneeded


def _is_replaced(on):
    """Return the condition that a feature which replaces this one is fitted on the date `on`."""
    FeatureState = apps.get_model("fleet", "FeatureState")
    replaced = Q(pk__in=[])
    for code in ESSENTIAL:
        stand_ins = FEATURES[code].fulfilled_by
        if stand_ins:
            fitted = FeatureState.objects.on(on).filter(
                machine=OuterRef("machine"), feature__in=stand_ins, state="fitted"
            )
            replaced |= Q(feature=code) & Exists(fitted)
    return replaced
