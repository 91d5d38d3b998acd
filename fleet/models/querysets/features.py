"""Queries about recorded safety features: which of them are gaps.

The rule is that of `fleet.catalogue.gaps.judge_feature`, as SQL; tests/fleet/cover_report/test_report.py compares them.
"""

from django.apps import apps
from django.db.models import Exists, OuterRef, Q

from fleet.catalogue import FEATURES, absent_needs
from fleet.catalogue.gaps import ESSENTIAL, bad_state, by_stand_ins
from fleet.models.querysets.scoped import DatedRowQuerySet

NOTHING = Q(pk__in=[])


class Unneeded:
    """The machine models on which a feature does not apply; reads the models once."""

    def __init__(self):
        kinds = apps.get_model("fleet", "MachineModel").objects.only("gases", "vaporizer_positions", "lacks")
        self.equipment = {kind.pk: kind.equipment for kind in kinds}
        self._by_code = {}

    def models(self, feature):
        """Return the keys of the models on which `feature` does not apply, as a frozenset."""
        if feature.code not in self._by_code:
            found = frozenset(pk for pk, equipment in self.equipment.items() if absent_needs(feature, equipment))
            self._by_code[feature.code] = found
        return self._by_code[feature.code]


class FeatureStateQuerySet(DatedRowQuerySet):
    def by_machine(self, machines, on) -> dict[int, dict[str, str]]:
        """Return the states of all features on the day `on` by machine and code, for a list of machines; one query."""
        found = {machine.pk: {} for machine in machines}
        rows = self.on(on).filter(machine__in=list(found)).order_by()
        for machine, feature, state in rows.values_list("machine", "feature", "state"):
            found[machine][feature] = state
        return found

    def fitted(self, codes, on):
        """Return the states of the features `codes` that are fitted on the date `on`."""
        return self.on(on).filter(feature__in=codes, state="fitted")

    def gaps(self, features, on, unneeded):
        """Return the gaps among `features` on the date `on`: recorded, bad, needed on that machine, not replaced."""
        found = self.on(on).filter(_bad(features)).exclude(_pointless(features, unneeded))
        return found.exclude(self._replaced(features, on)).order_by()

    def missing_essential(self, on):
        """Return the gaps among the essential features on the date `on`, by feature."""
        return self.gaps([FEATURES[code] for code in ESSENTIAL], on, Unneeded()).order_by("feature")

    def _replaced(self, features, on):
        states, found = self.model._default_manager, NOTHING
        for codes, served in by_stand_ins(features).items():
            found |= Q(feature__in=served) & Exists(states.fitted(codes, on).filter(machine=OuterRef("machine")))
        return found


def _bad(features):
    bad = NOTHING
    for state in ("fitted", "not fitted"):
        codes = [feature.code for feature in features if bad_state(feature) == state]
        if codes:
            bad |= Q(feature__in=codes, state=state)
    return bad


def _pointless(features, unneeded):
    found = NOTHING
    for feature in features:
        if models := unneeded.models(feature):
            found |= Q(feature=feature.code, machine__model__in=models)
    return found
