"""Whether a kept cover still holds of a machine, and what its circuit shows beside what is recorded."""

from dataclasses import dataclass

from django.utils import timezone

from fleet.catalogue import FEATURES
from fleet.circuit.derived import contradictions
from fleet.circuit.digest import circuit_digest
from fleet.circuit_covers.keeping import shown_from_dict
from fleet.circuit_covers.rules import rules
from fleet.circuit_covers.sharing import shared_circuit
from fleet.cover.queries import states_of


@dataclass(frozen=True, slots=True)
class ShownFeature:
    """A protection: what is recorded of it, what the circuit shows, and why."""

    name: str
    recorded: str
    shown: str
    because: str
    disagrees: bool


@dataclass(frozen=True, slots=True)
class Standing:
    """`outdated` says why a kept cover no longer holds, empty while it does. `features` in the catalogue's order."""

    outdated: str = ""
    features: tuple[ShownFeature, ...] = ()
    contradictions: tuple = ()


def standing_of(machine, kept, found):
    """Return the Standing of a machine's MachineCover, which may be None; `found` is its MachineCircuit of today."""
    if kept is None or kept.cover is None:
        return Standing()
    states = states_of([machine], machine.site.date_of(timezone.now()))[machine.pk]
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
        return "The circuit as now recorded cannot be computed."
    if circuit_digest(shared_circuit(machine, found)[0]) != kept.cover.digest:
        return "The circuit, a safety feature or a measured value has changed since then."
    return ""
