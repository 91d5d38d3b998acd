"""Lists every single failure and every hazardous use of a circuit, and pairs of them."""

from fleet.circuit.causes.component_failures import component_causes
from fleet.circuit.causes.hoses import connection_causes
from fleet.circuit.causes.pairs import pair_of, pairs_among
from fleet.circuit.causes.supplies import supply_causes
from fleet.circuit.causes.use import use_causes
from fleet.circuit.cover_rows import Cause
from fleet.circuit.state import Likelihood
from fleet.circuit.structure import Circuit

__all__ = ["causes_of", "pair_of", "pairs_of"]


def causes_of(circuit: Circuit) -> tuple[Cause, ...]:
    """Return every single cause of a circuit: use, supplies, components, connections, each code once.

    Ordinary use comes first and counts as a cause: its hazards exist at all times.
    """
    causes = [*use_causes(circuit), *supply_causes(circuit), *component_causes(circuit), *connection_causes(circuit)]
    return tuple({cause.code: cause for cause in causes}.values())


def pairs_of(circuit: Circuit, at_least: Likelihood = Likelihood.COMMON) -> tuple[Cause, ...]:
    """Return every pair of single causes that are both at least that likely and can occur together."""
    return pairs_among(circuit, causes_of(circuit), at_least)
