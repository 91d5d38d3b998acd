"""The rate of hidden failures of each procedure on each machine model, for its page."""

from dataclasses import dataclass

from fleet.models import Machine, MachineModel
from inspections.models import Procedure
from inspections.planning.hidden_rate import hidden_rate_bounds
from inspections.planning.interval_evidence import Observed, Pool, choose_pool
from inspections.planning.rates import Bounds
from inspections.schedule.hidden_failures import counted_gaps
from inspections.schedule.interval_data import observed

CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True)
class Pair:
    """A procedure on a machine model: what its inspections showed, and those of the manufacturer's other models."""

    procedure: Procedure
    model: MachineModel
    own: Observed
    family: Observed


@dataclass(frozen=True, slots=True)
class RateLine:
    """`rate` is of the model alone; `pooled` of what a dossier would use, where that is more."""

    pair: Pair
    rate: Bounds
    pool: Pool
    pooled: Bounds | None

    @property
    def is_bounded(self):
        return self.rate.upper != float("inf")


def observed_pairs(person, first, last):
    """Return the pairs with a gap between complete inspections, of machines that `person` may see. Three queries."""
    machines = Machine.objects.visible_to(person)
    counted = counted_gaps(machines, first, last, by=("procedure", "machine__model"))
    procedures = Procedure.objects.in_bulk({key for key, _ in counted})
    models = MachineModel.objects.in_bulk({key for _, key in counted})
    found = {key: observed(str(models[key[1]]), gaps) for key, gaps in counted.items()}
    pairs = [
        Pair(procedures[procedure], models[model], own, _family(found, models, procedure, model))
        for (procedure, model), own in found.items()
    ]
    return sorted(pairs, key=lambda one: (one.procedure.code, str(one.model)))


def hidden_rate_lines(pairs):
    """Return the rates of some pairs; the bounds are computed for these alone."""
    return [_line(pair) for pair in pairs]


def _line(pair):
    pool = choose_pool(pair.own, pair.family)
    pooled = hidden_rate_bounds(pool.observed.gaps, CONFIDENCE) if pool.is_pooled else None
    return RateLine(pair, hidden_rate_bounds(pair.own.gaps, CONFIDENCE), pool, pooled)


def _family(found, models, procedure, model):
    """What the other models of the manufacturer showed under a procedure."""
    manufacturer = models[model].manufacturer
    joined = Observed(f"the other models of {manufacturer}", ())
    for (other_procedure, other), seen in found.items():
        if other_procedure == procedure and other != model and models[other].manufacturer == manufacturer:
            joined = joined.joined(seen, joined.words)
    return joined
