"""Checks whether a stored cover is still valid for a machine, and compares its circuit with the record."""

from dataclasses import dataclass

from django.utils import timezone

from fleet.catalogue import FEATURES
from fleet.circuit.derived_features import contradictions
from fleet.circuit.digest import circuit_digest
from fleet.circuits.covers.derived_as_json import shown_from_dict
from fleet.circuits.covers.program_digest import rules
from fleet.circuits.covers.sharing import shared_circuit
from fleet.models import FeatureState


@dataclass(frozen=True, slots=True)
class ShownFeature:
    """A safety feature: what is recorded, what the circuit shows, and why."""

    name: str
    recorded: str
    shown: str
    because: str
    disagrees: bool


@dataclass(frozen=True, slots=True)
class Standing:
    """`outdated` is the reason why a stored cover is not valid, else empty. `features` in the catalogue's order."""

    outdated: str = ""
    features: tuple[ShownFeature, ...] = ()
    contradictions: tuple = ()


def standing_of(machine, kept, found):
    """Return the Standing of a machine's MachineCover, which may be None; `found` is its MachineCircuit of today."""
    if kept is None or kept.cover is None:
        return Standing()
    states = FeatureState.objects.by_machine([machine], machine.site.date_of(timezone.now()))[machine.pk]
    shown = shown_from_dict(kept.cover.shown)
    contradicting = contradictions(shown, states)
    disagreeing = {each.feature for each in contradicting}
    features = tuple(
        ShownFeature(
            FEATURES[code].name, states.get(code, "not known"), str(each.state), each.because, code in disagreeing
        )
        for code, each in shown.items()
        if code in FEATURES
    )
    return Standing(_outdated(machine, kept, found), features, contradicting)


def _outdated(machine, kept, found):
    if kept.cover.rules != rules():
        return "It was computed by an earlier release of the program."
    if not found.can_be_solved:
        return "The circuit, as now recorded, cannot be computed."
    if circuit_digest(shared_circuit(machine, found)[0]) != kept.cover.digest:
        return "The circuit, a safety feature or a measured value has changed since."
    return ""
