"""Vaporizers, their rail, and the exclusion bar that allows only one to be on."""

from collections.abc import Mapping

from fleet.catalogue import AGENTS
from fleet.circuit.elements.base import Branch, Element, Failure, Plumbing
from fleet.circuit.elements.defaults import (
    COMMON,
    LEAK_FLOW,
    LITRE_PER_MINUTE,
    LOW_PRESSURE_LEAK_M2,
    OCCASIONAL,
    RARE,
    area_for,
    leaks_of,
    practice,
    remembered,
    through,
    to_room,
)
from fleet.circuit.laws import FLOOR, Nozzle, resistance
from fleet.circuit.state import Settings
from fleet.circuit.structure import STANDARD_PA_ABS

HEATED = ("desflurane",)  # delivered by a heated vaporizer: its per cent does not change with altitude
MISFILLED_WITH = ("halothane", "isoflurane", "sevoflurane", "enflurane")  # with fillers of the same size
AGENT_CODES = ("isoflurane", *(code for code in AGENTS if code != "isoflurane"))


def filled_with(agent: str, failure: str) -> str:
    """Return the agent in a vaporizer for an agent: itself, or what it was misfilled with.

    The same share of the flow takes up vapour in proportion to its pressure, and its effect is that divided by its MAC.
    """
    if failure not in ("wrong agent", "weak agent"):
        return agent
    others = [code for code in MISFILLED_WITH if code != agent]
    worst = max if failure == "wrong agent" else min
    return worst(others, key=lambda code: AGENTS[code].vapour_pressure_pa_abs / AGENTS[code].mac)


class VaporizerRail(Element):
    """Carries the gas to the vaporizers; their seals may leak."""

    kind = "vaporizer-rail"
    values = {"drop_10": practice(50.0, "pressure"), "leak_flow": LEAK_FLOW}
    failures = {"leaking": Failure(COMMON, "the seal of a vaporizer leaks to the room")}

    def plumbing(self) -> Plumbing:
        way = resistance(self.value("drop_10"), 10 * LITRE_PER_MINUTE)
        return Plumbing((through(self, way), *leaks_of(self, "out", LOW_PRESSURE_LEAK_M2)))


class Vaporizer(Element):
    """Variable bypass: adds the fraction on its dial, and none when it is off.

    At altitude the simple rule holds: the partial pressure stays that of sea level, so the fraction is the dial times
    101.325 kPa / ambient (common practice, no source); a heated one delivers the fraction on its dial.
    """

    kind = "vaporizer"
    values = {
        "highest_output": practice(0.05, "fraction"),
        "drop_10": practice(500.0, "pressure"),
        "leak_flow": LEAK_FLOW,
    }
    settings = {"dial": 0.0}
    options = {"agent": AGENT_CODES}
    failures = {
        "drifted high": Failure(OCCASIONAL, "it delivers one and a half times its dial setting"),
        "drifted low": Failure(OCCASIONAL, "it delivers half its dial setting"),
        "stuck open": Failure(RARE, "its dial does not shut it off: it delivers at least 1 %"),
        "tipped": Failure(OCCASIONAL, "liquid in its bypass: it delivers saturated vapour"),
        "wrong agent": Failure(OCCASIONAL, "it is filled with the strongest other agent"),
        "weak agent": Failure(OCCASIONAL, "it is filled with the weakest other agent"),
        "empty": Failure(COMMON, "it is empty"),
        "leaking": Failure(COMMON, "its filler or its seat leaks to the room"),
    }

    def plumbing(self) -> Plumbing:
        way = resistance(self.value("drop_10"), 10 * LITRE_PER_MINUTE)
        fraction, agent = self.output()
        adds = ((agent, fraction),) if fraction > 0 else ()
        main = Branch("through", self.port("in"), self.port("out"), way, adds=adds)
        is_on = float(self.setting("dial")) > 0
        leaks = leaks_of(self, "out", LOW_PRESSURE_LEAK_M2) if is_on or not self.has_failed("leaking") else ()
        return Plumbing((main, *leaks))

    def saturated(self, agent: str) -> float:
        """Return the fraction of vapour in saturated gas at ambient pressure and 20 C."""
        return min(AGENTS[agent].vapour_pressure_pa_abs / self.condition.ambient_pa_abs, 0.99)

    def output(self) -> tuple[float, str]:
        """Return the vapour fraction at its outlet, and the agent."""
        agent, dial = self.option("agent"), float(self.setting("dial"))
        if self.has_failed("empty"):
            return 0.0, agent
        if self.has_failed("tipped"):
            return (self.saturated(agent) if dial > 0 else 0.0), agent
        if self.has_failed("stuck open"):
            dial = max(dial, 0.01)
        dial *= 1 + 0.5 * (self.has_failed("drifted high") - self.has_failed("drifted low"))
        fraction = dial if agent in HEATED else dial * STANDARD_PA_ABS / self.condition.ambient_pa_abs
        other = filled_with(agent, self.condition.failure)
        fraction *= AGENTS[other].vapour_pressure_pa_abs / AGENTS[agent].vapour_pressure_pa_abs
        agent = other
        return min(fraction, self.saturated(agent)), agent


class MeasuredFlowVaporizer(Element):
    """Oxygen from its own control bubbles through the liquid and leaves saturated, to be diluted by another flow."""

    kind = "measured-flow-vaporizer"
    values = {
        "supply_pressure": remembered(310e3, "pressure", "45 psi"),
        "full_scale": practice(1 * LITRE_PER_MINUTE, "flow"),
    }
    settings = {"set_flow": 0.0}
    options = {"agent": ("halothane", *(code for code in AGENTS if code != "halothane"))}
    failures = {
        "stuck open": Failure(RARE, "its control stays fully open"),
        "leaking": Failure(OCCASIONAL, "it leaks to the room"),
        "empty": Failure(COMMON, "it is empty"),
        "wrong agent": Failure(OCCASIONAL, "it is filled with the strongest other agent"),
        "weak agent": Failure(OCCASIONAL, "it is filled with the weakest other agent"),
    }

    def plumbing(self) -> Plumbing:
        flow = self.value("full_scale") if self.has_failed("stuck open") else float(self.setting("set_flow"))
        law = Nozzle(area_for(self, flow, self.value("supply_pressure"))) if flow > 0 else FLOOR
        agent = filled_with(self.option("agent"), self.condition.failure)
        share = min(AGENTS[agent].vapour_pressure_pa_abs / self.condition.ambient_pa_abs, 0.99)
        adds = () if self.has_failed("empty") else ((agent, share),)
        branches = (Branch("through", self.port("in"), self.port("out"), law, adds=adds),)
        if self.has_failed("leaking"):
            branches += (to_room(self, "out", LOW_PRESSURE_LEAK_M2 / 3),)
        return Plumbing(branches)


class ExclusionBar(Element):
    """Allows one vaporizer to be on: of those turned on, the first in the order of its positions stays on.

    Option "vaporizers" lists the component codes by position, separated by blanks, "-" for an empty position. The kind
    that acts between neighbours does not lock the outer two of three positions when the middle one is empty.
    """

    kind = "exclusion-bar"
    options = {"vaporizers": ("",), "type": ("all", "neighbours")}
    failures = {"broken": Failure(OCCASIONAL, "it no longer locks the other dials", is_silent=True)}
    protects = ("vaporizer-exclusion",)

    def plumbing(self) -> Plumbing:
        return Plumbing()

    def places(self) -> tuple[str, ...]:
        return tuple(self.option("vaporizers").replace(",", " ").split())

    def govern(self, settings: Mapping[str, Settings]) -> Mapping[str, Settings]:
        if self.condition.is_removed or self.has_failed("broken"):
            return settings
        governed, last_on = dict(settings), None
        reach = 1 if self.option("type") == "neighbours" else len(self.places())
        for place, code in enumerate(self.places()):
            if float(governed.get(code, {}).get("dial", 0.0)) <= 0:
                continue
            if last_on is not None and place - last_on <= reach:
                governed[code] = {**governed[code], "dial": 0.0}
            else:
                last_on = place
        return governed
