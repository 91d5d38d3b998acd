"""Components without gas: mains and battery. The circuit only lists them."""

from fleet.circuit.elements.base import Element, Plumbing


class Battery(Element):
    kind = "battery"
    protects = ("battery-reserve",)

    def plumbing(self) -> Plumbing:
        return Plumbing()


class MainsSupply(Element):
    kind = "mains-supply"
    protects = ("protective-earth",)

    def plumbing(self) -> Plumbing:
        return Plumbing()
