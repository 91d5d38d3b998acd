"""The pressure that a flow needs, p = c q^n: fitted to readings, and brought from a flow that was read to another.

Where nothing moves with the flow, n lies between 1 (laminar) and 2 (an orifice). A disc that lifts as the flow grows
makes n smaller than 1, and so does a leak of the rig; what closes as the flow grows makes it larger than 2. Source:
laws of laminar and turbulent flow, any textbook of fluid mechanics (from memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, sinh, sqrt, tanh

from .challenges import Reason, Unmet
from .judging import two_figures
from .propagation import Budget, Measured, budget, propagate_measured
from .quantities import from_si
from .uncertainty import COVERAGE_PROBABILITY, RECTANGULAR, Estimate, Line, Shaped, combined, excess_for, fit_line

Pairs = Sequence[tuple[Measured, Measured]]

LAMINAR, SQUARE = 1.0, 2.0
EXPONENT = Measured((LAMINAR + SQUARE) / 2, own_std=(SQUARE - LAMINAR) / sqrt(12), own_excess=RECTANGULAR)
"""An exponent of which nothing else is known: anywhere from 1 to 2, equally likely. Source: JCGM 100:2008, 4.3.7."""
NEAR = 0.05
"""Share by which a flow may differ from the flow asked for and still be taken for it; common practice, no source."""
APART = 0.05  # share by which two flows must differ to give an exponent; common practice, no source


@dataclass(frozen=True, slots=True)
class PowerLaw:
    """The power law through readings: least squares of ln p over ln q, every reading with the same weight.

    pairs  (flow, pressure), all above zero, at 2 different flows or more; with 3 pairs or more their scatter counts too
    """

    pairs: Pairs

    @property
    def exponent(self) -> Estimate:
        found = self._budget(lambda level, slope: slope)
        return found.estimate if len(self.pairs) < 3 else found.with_scatter(self._line(0.0).slope)

    def at(self, flow_m3_s: float) -> Estimate:
        """Return the pressure at a flow, Pa."""
        found = self._budget(lambda level, slope: exp(level + slope * log(flow_m3_s)))
        if len(self.pairs) < 3:
            return found.estimate
        scatter = self._line(log(flow_m3_s)).intercept
        return found.with_scatter(Estimate(0.0, found.value * scatter.std_uncertainty, scatter.dof))

    def is_possible(self) -> bool:
        """Return whether an exponent from 1 to 2 lies within the uncertainty of the one found."""
        exponent = self.exponent
        slack = exponent.expanded() + 1e-9
        return LAMINAR - slack <= exponent.value <= SQUARE + slack

    def words(self) -> str:
        """Return the exponent with its expanded uncertainty, in words."""
        found, count = self.exponent, len(self.pairs)
        return f"{found.value:.2f} ± {two_figures(found.expanded())} from {count} readings"

    def _budget(self, of) -> Budget:
        flows, pressures = zip(*self.pairs, strict=True)
        count = len(flows)
        return budget(lambda *all: of(*_fitted(all[:count], all[count:])), (*flows, *pressures))

    def _line(self, origin: float) -> Line:
        return fit_line([log(q.value) for q, _ in self.pairs], [log(p.value) for _, p in self.pairs], origin)


def _fitted(flows: Sequence[float], pressures: Sequence[float]) -> tuple[float, float]:
    """Return ln c and n. Raises ValueError for a flow or a pressure that is not above zero."""
    x, y = [log(flow) for flow in flows], [log(pressure) for pressure in pressures]
    mid, level = sum(x) / len(x), sum(y) / len(y)
    squares = sum((one - mid) ** 2 for one in x)
    slope = sum((one - mid) * (other - level) for one, other in zip(x, y, strict=True)) / squares
    return level - slope * mid, slope


def law_of(pairs: Pairs) -> PowerLaw | None:
    """Return the power law of readings (flow, pressure); None without two different flows with a pressure each."""
    usable = usable_pairs(pairs)
    flows = [flow.value for flow, _ in usable]
    return PowerLaw(usable) if usable and max(flows) > (1 + APART) * min(flows) else None


def usable_pairs(pairs: Pairs) -> list[tuple[Measured, Measured]]:
    """Return the readings with a flow and a pressure above zero: the others have no logarithm."""
    return [(flow, pressure) for flow, pressure in pairs if flow.value > 0 and pressure.value > 0]


def brought_to_flow(pair: tuple[Measured, Measured], target: float, low: float = LAMINAR) -> Estimate:
    """Return the pressure of a reading (flow above zero, pressure) brought to another flow, m3/s.

    low  the exponent lies anywhere from here to 2, equally likely
    What the errors of the flow do grows with the exponent: its root mean square counts, which holds their product.
    """
    flow, ratio = pair[0].value, target / pair[0].value
    mean, root_mean_square = (low + SQUARE) / 2, sqrt((low**2 + low * SQUARE + SQUARE**2) / 3)
    read = propagate_measured(lambda q, p: p * ratio**mean * (flow / q) ** root_mean_square, pair)
    return combined(read.value, (read, _left_open(read.value, (SQUARE - low) * abs(log(ratio)))))


def _left_open(value: float, span: float) -> Estimate:
    """Return what an exponent leaves open of a value: value e^x with x anywhere in +/-span/2, equally likely.

    u is the root-mean-square distance from the value, and k covers 95 % of that lopsided distribution. By integration:
    the mean of e^x is sinh(h)/h with h = span/2, that of e^2x is sinh(2h)/2h.
    """
    half = span / 2
    if half < 1e-3:
        return Shaped(0.0, abs(value) * half / sqrt(3), excess=RECTANGULAR)
    std = sqrt(sinh(2 * half) / (2 * half) - 2 * sinh(half) / half + 1)
    reach = tanh(COVERAGE_PROBABILITY * half)
    if -log(1 - reach) > half:  # the lower end is covered whole, so the rest lies above
        reach = exp((2 * COVERAGE_PROBABILITY - 1) * half) - 1
    return Shaped(0.0, abs(value) * std, excess=excess_for(reach / std))


@dataclass(frozen=True, slots=True)
class PressureAt:
    """The pressure at a flow that was asked for: its estimate, how it was found, and in what way it is no evidence."""

    estimate: Estimate
    how: str
    unmet: Unmet | None = None


def pressure_at(pairs: Pairs, target: float, *, beyond: bool) -> PressureAt | None:
    """Return the pressure at a flow, m3/s, from readings (flow, pressure); None where they give none.

    A reading within 5 % of the flow is taken first, with an exponent from 0 (a disc that lifts) to 2 over so short a
    way. Else the power law through the reading on either side is taken, if that of all readings is possible.

    beyond  whether a flow outside those that were read may be reached by an exponent from 1 to 2
    """
    near = [pair for pair in pairs if abs(pair[0].value - target) <= NEAR * target * (1 + 1e-9)]
    if near:
        pair = min(near, key=lambda one: abs(one[0].value - target))
        return PressureAt(brought_to_flow(pair, target, 0.0), f"read at {_shown(pair[0].value)}")
    law = law_of(pairs)
    if law is None:
        usable = usable_pairs(pairs)
        return _by_any_exponent(usable, target) if usable and beyond else None
    flows = [flow.value for flow, _ in law.pairs]
    if min(flows) <= target <= max(flows):
        return _between(law, target)
    return _beyond(law, target) if beyond else _outside(law, target)


def _by_any_exponent(pairs: Pairs, target: float) -> PressureAt:
    pair = min(pairs, key=lambda one: abs(log(one[0].value / target)))
    how = f"from {_shown(pair[0].value)} by an exponent between 1 and 2, any equally likely"
    return PressureAt(brought_to_flow(pair, target), how)


def _between(law: PowerLaw, target: float) -> PressureAt:
    pairs = sorted(law.pairs, key=lambda pair: pair[0].value)
    place = next(place for place, pair in enumerate(pairs) if pair[0].value >= target)
    beside = PowerLaw(pairs[place - 1 : place + 1])
    how = f"by the power law through the readings on either side; exponent of all {law.words()}"
    return PressureAt(beside.at(target), how, _contradiction(law, target))


def _by_law(law: PowerLaw, target: float) -> PressureAt:
    how = f"by the power law of the readings, exponent {law.words()}"
    return PressureAt(law.at(target), how, _contradiction(law, target))


def _beyond(law: PowerLaw, target: float) -> PressureAt:
    """Return what is less uncertain: the law fitted to the readings, or the nearest reading and any exponent."""
    fitted, plain = _by_law(law, target), _by_any_exponent(law.pairs, target)
    if fitted.unmet or plain.estimate.expanded() < fitted.estimate.expanded():
        return PressureAt(plain.estimate, plain.how, fitted.unmet)
    return fitted


def _outside(law: PowerLaw, target: float) -> PressureAt:
    found, flows = _by_law(law, target), [flow.value for flow, _ in law.pairs]
    why = (
        f"The flows read, {_shown(min(flows))} to {_shown(max(flows))}, do not reach {_shown(target)}: read the "
        "pressure at that flow, or at one on either side of it."
    )
    return PressureAt(found.estimate, found.how, Unmet(why, fail_stands=False))


def _contradiction(law: PowerLaw, target: float) -> Unmet | None:
    if law.is_possible():
        return None
    why = f"{odd_exponent(law)} So no flow that was not read is judged: read the pressure at {_shown(target)} itself."
    return Unmet(why, Reason.CONTRADICTED, fail_stands=False)


def odd_exponent(law: PowerLaw) -> str:
    """Return what an exponent outside 1 to 2 may mean."""
    if law.exponent.value < LAMINAR:
        return (
            f"The exponent of the power law is {law.words()}, below 1: a disc that lifts as the flow grows, a leak "
            "before it, or a manometer that shows too much at zero."
        )
    return (
        f"The exponent of the power law is {law.words()}, above 2: a passage that narrows as the flow grows, a disc "
        "that blocks it, or a manometer that shows too little at zero."
    )


def _shown(flow_m3_s: float) -> str:
    return f"{from_si(flow_m3_s, 'L/min'):.3g} L/min"
