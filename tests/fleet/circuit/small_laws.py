"""The smallest laws a circuit can be made of, for tests of the solver alone: every answer can be had by hand."""

from dataclasses import dataclass
from math import sqrt

from fleet.circuit.elements.base import ROOM, Boundary, Branch, Element, Flow, Plumbing, Value
from fleet.circuit.gases import Mix
from fleet.circuit.state import State
from fleet.circuit.structure import STANDARD_PA_ABS, Circuit, Connection, Component, Port

GIVEN = "the test gives it"


def value(default):
    return Value(default, GIVEN, GIVEN)


@dataclass(frozen=True)
class Linear:
    """q = g (a - b) above a pressure to open it, and a leak the other way."""

    g: float
    opening: float = 0.0
    back: float | None = None

    def flow(self, a, b, mix_a, mix_b, pilots):
        back = self.g if self.back is None else self.back
        beyond = a - b - self.opening
        if self.back is not None and beyond > 0:
            return Flow(back * (a - b) + self.g * beyond, back + self.g, -back - self.g)
        return Flow(back * (a - b), back, -back)


@dataclass(frozen=True)
class Root:
    """q = c sqrt(dp) for the density of air, less for a heavier gas; straight below 1 Pa so that slopes are finite."""

    c: float

    def flow(self, a, b, mix_a, mix_b, pilots):
        c = self.c * sqrt(0.02896 / (mix_a if a >= b else mix_b).molar_mass)
        d = a - b
        if abs(d) < 1:
            return Flow(c * d, c, -c)
        slope = c / 2 / sqrt(abs(d))
        return Flow(c * sqrt(abs(d)) * (1 if d > 0 else -1), slope, -slope)


@dataclass(frozen=True)
class Constant:
    value: float

    def flow(self, a, b, mix_a, mix_b, pilots):
        return Flow(self.value, 0.0, 0.0)


@dataclass(frozen=True)
class Shutter:
    """Opens in proportion to the pilot pressure above the room: g at `full`, a floor at none."""

    g: float
    full: float

    def flow(self, a, b, mix_a, mix_b, pilots):
        share = min(max((pilots[0] - STANDARD_PA_ABS) / self.full, 0.0), 1.0)
        slope = self.g / self.full if 0 < share < 1 else 0.0
        g = self.g * share + 1e-15
        return Flow(g * (a - b), g, -g, (slope * (a - b),))


class Supply(Element):
    kind = "pipeline-inlet"
    values = {"pressure": value(400e3)}
    settings = {"supply_gas": ""}
    unjoined = frozenset({"in"})

    def plumbing(self):
        gas = self.setting("supply_gas") or self.component.gas
        at = self.condition.ambient_pa_abs + self.value("pressure")
        way = Branch(
            "through", self.port("in"), self.port("out"), Linear(self.value("g") if "g" in self.component.values else 1e-6)
        )
        return Plumbing((way,), (Boundary(self.port("in"), at, Mix.supply(gas)),))


class Pipe(Element):
    kind = "filter"
    values = {"g": value(1e-8)}
    failures = {"leaking": None}

    def plumbing(self):
        leak = (Branch("leak", self.port("in"), ROOM, Linear(self.value("g"))),) if self.has_failed("leaking") else ()
        return Plumbing((Branch("through", self.port("in"), self.port("out"), Linear(self.value("g"))), *leak))


class Orifice(Pipe):
    kind = "flowmeter"

    def plumbing(self):
        return Plumbing((Branch("through", self.port("in"), self.port("out"), Root(self.value("g"))),))


class Bank(Pipe):
    kind = "flow-bank"


class Check(Element):
    kind = "check-valve"
    values = {"g": value(1e-7), "opening_pressure": value(1000.0), "back": value(1e-14)}

    def plumbing(self):
        law = Linear(self.value("g"), self.value("opening_pressure"), self.value("back"))
        return Plumbing((Branch("through", self.port("in"), self.port("out"), law),))


class Cut(Element):
    kind = "supply-failure-valve"
    values = {"g": value(1e-7), "full": value(200e3)}
    protects = ("o2-failure-protection",)

    def plumbing(self):
        law = Linear(self.value("g")) if self.condition.is_removed else Shutter(self.value("g"), self.value("full"))
        pilots = () if self.condition.is_removed else (self.port("oxygen"),)
        return Plumbing((Branch("through", self.port("in"), self.port("out"), law, pilots),))


class Vapour(Element):
    kind = "vaporizer"
    values = {"g": value(1e-6)}
    settings = {"dial": 0.0}

    def plumbing(self):
        adds = (("sevoflurane", self.setting("dial")),) if self.setting("dial") else ()
        return Plumbing((Branch("through", self.port("in"), self.port("out"), Linear(self.value("g")), adds=adds),))


class Way(Pipe):
    """The way out: to the room where nothing is joined."""

    kind = "outlet"
    unjoined = frozenset({"out"})


class Pump(Element):
    kind = "breathing-hose"
    values = {"flow": value(1e-4)}

    def plumbing(self):
        return Plumbing((Branch("through", self.port("in"), self.port("out"), Constant(self.value("flow"))),))


class Plug(Element):
    kind = "yoke-block"

    def plumbing(self):
        return Plumbing()


KINDS = {one.kind: one for one in (Supply, Pipe, Orifice, Bank, Check, Cut, Vapour, Way, Pump, Plug)}


def component(code, kind, gas="", **values):
    return Component(code, kind, code.replace("-", " "), gas, values)


def joined(*pairs):
    """Connections from words such as "wall.out > pipe.in"."""
    made = []
    for pair in pairs:
        ends = [Port(*end.strip().split(".")) for end in pair.split(">")]
        made += [Connection(one, other) for one, other in zip(ends, ends[1:], strict=False)]
    return tuple(made)


def circuit(components, *pairs):
    return Circuit("small", "small circuit", tuple(components), joined(*pairs))


AS_IT_IS = State("as-it-is", "as it is")
