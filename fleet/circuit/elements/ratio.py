"""Devices for a minimum oxygen fraction with nitrous oxide: in the gas, at the spindles, or electronic."""

from collections.abc import Mapping

from fleet.circuit.elements.base import Branch, Element, Failure, Plumbing, Value
from fleet.circuit.elements.defaults import COMMON, LITRE_PER_MINUTE, OCCASIONAL, PSI, RARE, practice, through
from fleet.circuit.gases import Mix
from fleet.circuit.laws import FLOOR, Metered, Nozzle, Opening, Rationed, nozzle_area, resistance
from fleet.circuit.state import Settings

LOWEST_OXYGEN = Value(0.25, "ASA Monitor 2015; 79(10): 42, abstract; AAGBI 2012: 25 %", "seen", "fraction")
DRIFTED_TO = 0.15  # minimum oxygen fraction of a drifted device. Source: common practice, no source
SHUT_BELOW_M3_S = 1e-9  # a control set below this counts as shut


def most_beside(element: Element) -> float:
    """Return the highest ratio of the other gas to oxygen flow."""
    lowest = min(DRIFTED_TO, element.value("lowest_oxygen")) if element.has_failed("drifted low") else None
    return 1 / (lowest or element.value("lowest_oxygen")) - 1


class RatioProtection(Element):
    """A controller in the gas path, between controls and tubes: nitrous oxide passes in proportion to oxygen.

    It senses the pressure drop of the oxygen flow, and so does not detect another gas there.
    """

    kind = "ratio-protection"
    values = {
        "lowest_oxygen": LOWEST_OXYGEN,
        "drop_10": practice(2e3, "pressure"),  # of either path at 10 L/min of oxygen
    }
    failures = {
        "stuck open": Failure(OCCASIONAL, "it passes nitrous oxide at any oxygen flow", is_silent=True),
        "stuck shut": Failure(RARE, "it passes no nitrous oxide"),
        "drifted low": Failure(OCCASIONAL, "it holds oxygen only at 15 %"),
    }
    protects = ("ratio-protection",)

    def plumbing(self) -> Plumbing:
        way = resistance(self.value("drop_10"), 10 * LITRE_PER_MINUTE)
        return Plumbing((through(self, way, "oxygen-in", "oxygen-out"), self._nitrous_oxide(way)))

    def _nitrous_oxide(self, way) -> Branch:
        ends = "nitrous oxide", self.port("nitrous-oxide-in"), self.port("nitrous-oxide-out")
        if self.has_failed("stuck shut"):
            return Branch(*ends, FLOOR)
        if self.has_failed("stuck open") or self.condition.is_removed:
            return Branch(*ends, way)
        pilots = self.port("oxygen-in"), self.port("oxygen-out")
        return Branch(*ends, Rationed(way, way, most_beside(self)), pilots)


class RatioLink(Element):
    """Chain and sprockets between two control spindles: nitrous oxide cannot be opened further than oxygen allows.

    Here the link turns the other control down; kinds that turn oxygen up hold the same fraction. It acts on spindles:
    it does not detect the flow through a failed control or a wrong supply gas.
    """

    kind = "ratio-link"
    values = {"lowest_oxygen": LOWEST_OXYGEN}
    options = {"oxygen_control": ("",), "other_control": ("",)}
    failures = {
        "broken": Failure(OCCASIONAL, "it no longer links the controls", is_silent=True),
        "drifted low": Failure(COMMON, "it has slipped and holds oxygen only at 15 %"),
    }
    protects = ("ratio-protection",)

    def plumbing(self) -> Plumbing:
        return Plumbing()

    def govern(self, settings: Mapping[str, Settings]) -> Mapping[str, Settings]:
        if self.condition.is_removed or self.has_failed("broken"):
            return settings
        oxygen, other = self.option("oxygen_control"), self.option("other_control")
        most = most_beside(self) * float(settings.get(oxygen, {}).get("set_flow", 0.0))
        if float(settings.get(other, {}).get("set_flow", 0.0)) <= most:
            return settings
        return {**settings, other: {**settings[other], "set_flow": most}}


class ElectronicMixer(Element):
    """Electronically controlled valves: each gas is metered, nitrous oxide never above the limit for the set oxygen.

    Nitrous oxide is shut while oxygen pressure is below `cut_pressure`. It assumes oxygen at its oxygen inlet.
    """

    kind = "electronic-mixer"
    values = {
        "lowest_oxygen": LOWEST_OXYGEN,
        "highest_flow": practice(15 * LITRE_PER_MINUTE, "flow"),
        "cut_pressure": practice(20 * PSI, "pressure"),
        "open_pressure": practice(25 * PSI, "pressure"),
        "wide_pressure": practice(150e3, "pressure"),  # supply pressure at which a fully open valve passes highest_flow
    }
    settings = {"oxygen_flow": 0.0, "nitrous_oxide_flow": 0.0, "air_flow": 0.0, "power": 1}
    failures = {
        "no power": Failure(OCCASIONAL, "without power its valves close"),
        "oxygen valve stuck shut": Failure(RARE, "its oxygen valve is stuck shut"),
        "oxygen valve stuck open": Failure(RARE, "its oxygen valve stays fully open"),
        "nitrous oxide valve stuck open": Failure(RARE, "its nitrous oxide valve stays fully open"),
        "drifted low": Failure(OCCASIONAL, "it delivers half the set oxygen flow"),
    }
    protects = ("electronic-mixing",)
    unjoined = frozenset({"nitrous-oxide-in", "air-in"})

    def plumbing(self) -> Plumbing:
        return Plumbing((self._oxygen(), self._nitrous_oxide(), self._air()))

    def _ends(self, gas: str):
        name = "through" if gas == "oxygen" else gas.replace("-", " ")
        return name, self.port(f"{gas}-in"), self.port("out")

    def _wide(self, gas: str) -> Nozzle:
        ambient = self.condition.ambient_pa_abs
        return Nozzle(
            nozzle_area(self.value("highest_flow"), ambient + self.value("wide_pressure"), ambient, Mix.supply(gas))
        )

    def _metered(self, gas: str, flow: float) -> Branch:
        is_shut = self._is_dead() or flow < SHUT_BELOW_M3_S
        return Branch(*self._ends(gas), FLOOR if is_shut else Metered(self._wide(gas), flow))

    def _is_dead(self) -> bool:
        return self.has_failed("no power") or not float(self.setting("power"))

    def _oxygen(self) -> Branch:
        if self.has_failed("oxygen valve stuck open"):
            return Branch(*self._ends("oxygen"), self._wide("oxygen"))
        flow = float(self.setting("oxygen_flow")) * (0.5 if self.has_failed("drifted low") else 1.0)
        return self._metered("oxygen", 0.0 if self.has_failed("oxygen valve stuck shut") else flow)

    def _air(self) -> Branch:
        return self._metered("air", float(self.setting("air_flow")))

    def _nitrous_oxide(self) -> Branch:
        if self.has_failed("nitrous oxide valve stuck open"):
            return Branch(*self._ends("nitrous-oxide"), self._wide("nitrous-oxide"))
        flow = float(self.setting("nitrous_oxide_flow"))
        if self.condition.is_removed:
            return self._metered("nitrous-oxide", flow)
        flow = min(flow, (1 / self.value("lowest_oxygen") - 1) * float(self.setting("oxygen_flow")))
        if self._is_dead() or flow < SHUT_BELOW_M3_S:
            return Branch(*self._ends("nitrous-oxide"), FLOOR)
        ambient = self.condition.ambient_pa_abs
        opening = Opening(ambient + self.value("cut_pressure"), ambient + self.value("open_pressure"))
        law = Metered(self._wide("nitrous-oxide"), flow, opening)
        return Branch(*self._ends("nitrous-oxide"), law, (self.port("oxygen-in"),))
