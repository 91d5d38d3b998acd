"""Every single thing that can go wrong with a circuit, and ways of use that endanger; and pairs of them."""

from fleet.circuit.causes.component_failures import part_causes
from fleet.circuit.causes.hoses import joint_causes
from fleet.circuit.causes.pairs import pair_of, pairs_among
from fleet.circuit.causes.supplies import supply_causes
from fleet.circuit.causes.use import use_causes
from fleet.circuit.cover_rows import Cause
from fleet.circuit.state import Likelihood
from fleet.circuit.structure import Circuit

__all__ = ["causes_of", "pair_of", "pairs_of"]


def causes_of(circuit: Circuit) -> tuple[Cause, ...]:
    """Return every single cause of a circuit: use, supply, parts, joints, each code once; ordinary use comes first.

    Ordinary use counts as a way of use: what it shows stands on the machine at all times.
    """
    causes = [*use_causes(circuit), *supply_causes(circuit), *part_causes(circuit), *joint_causes(circuit)]
    return tuple({cause.code: cause for cause in causes}.values())


def pairs_of(circuit: Circuit, at_least: Likelihood = Likelihood.COMMON) -> tuple[Cause, ...]:
    """Return every two single causes that are both at least that likely and can come about together."""
    return pairs_among(circuit, causes_of(circuit), at_least)
