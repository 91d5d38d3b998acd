"""Components without gas: mains and battery. The circuit only lists them."""

from fleet.circuit.elements.base import Element, Failure, Plumbing
from fleet.circuit.elements.defaults import OCCASIONAL, RARE


class Battery(Element):
    kind = "battery"
    failures = {"spent": Failure(OCCASIONAL, "it holds no charge", is_silent=True)}
    protects = ("battery-reserve",)

    def plumbing(self) -> Plumbing:
        return Plumbing()


class MainsSupply(Element):
    kind = "mains-supply"
    settings = {"on": 1}
    failures = {"earth broken": Failure(RARE, "its protective earth is interrupted", is_silent=True)}
    protects = ("protective-earth",)

    def plumbing(self) -> Plumbing:
        return Plumbing()
