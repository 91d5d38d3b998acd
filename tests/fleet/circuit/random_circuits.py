"""Random machines that could be: any gases, supplies, protections, vaporizers and breathing systems, in any use."""

from hypothesis import strategies as st

from fleet.circuit.elements import ELEMENTS
from fleet.circuit.state import Fault, State
from fleet.circuit.structure import Circuit
from tests.fleet.circuit.plumber import LPM, PSI, built, component

OTHERS = ("nitrous-oxide", "air")
AGENTS = ("sevoflurane", "isoflurane", "desflurane")


class Bench:
    """Components and lines that grow as a machine is put together; `draw` chooses."""

    def __init__(self, draw):
        self.draw, self.components, self.lines, self.settings = draw, [], [], {}

    def maybe(self) -> bool:
        return self.draw(st.booleans())

    def number(self, low, high) -> float:
        return self.draw(st.floats(low, high, allow_nan=False))

    def add(self, end, code, kind, gas="", options=None, **values):
        """Put a component behind the port `end`; return its way out."""
        self.components.append(component(code, kind, gas, options, **values))
        if end:
            self.lines.append(f"{end} > {code}.in")
        return f"{code}.out"

    def maybe_add(self, end, *what, **values):
        return self.add(end, *what, **values) if self.maybe() else end


def supplied(bench, gas):
    """Pipeline, and cylinders behind a regulator; return where they meet."""
    end = bench.add("", f"{gas}-inlet", "pipeline-inlet", gas)
    bench.settings[f"{gas}-inlet"] = {
        "supply_pressure": bench.number(0, 60 * PSI),
        "supply_gas": bench.draw(st.sampled_from(("own", "own", "own", "", "oxygen", "nitrous-oxide"))),
    }
    end = bench.maybe_add(end, f"{gas}-filter", "filter", gas)
    end = bench.maybe_add(end, f"{gas}-pipeline-check", "check-valve", gas, {"place": "pipeline"})
    if bench.maybe():
        yoke = bench.add("", f"{gas}-yoke", "cylinder-yoke", gas)
        bench.settings[f"{gas}-yoke"] = {
            "content": bench.number(0, 1),
            "is_open": float(bench.maybe()),
            "cylinder_gas": bench.draw(st.sampled_from(("own", "own", ""))),
        }
        yoke = bench.maybe_add(yoke, f"{gas}-yoke-check", "check-valve", gas, {"place": "yoke"})
        relief = {"relief_pressure": 95 * PSI} if bench.maybe() else {}
        regulated = bench.add(yoke, f"{gas}-regulator", "pressure-regulator", gas, **relief)
        bench.lines.append(f"{regulated} > {end}")
    return end


def metered(bench, gas, end, oxygen, may_join_last):
    """From the supply of a gas to the bank, by way of what protects against lost oxygen."""
    if gas != "oxygen" and bench.maybe():
        kind = bench.draw(st.sampled_from(("shut-off", "proportional")))
        end = bench.add(end, f"{gas}-cut-off", "supply-failure-valve", gas, {"type": kind})
        bench.lines.append(f"{oxygen} > {gas}-cut-off.oxygen")
    end = bench.add(end, f"{gas}-control", "flow-control", gas)
    bench.settings[f"{gas}-control"] = {"set_flow": bench.draw(st.sampled_from((0.0, 0.2, 2.0, 8.0))) * LPM}
    end = bench.add(end, f"{gas}-flowmeter", "flowmeter", gas)
    joins = "out" if gas == "oxygen" and may_join_last and bench.maybe() else "in"
    bench.lines.append(f"{end} > bank.{joins}")


def mixed(bench, oxygen):
    """From the bank to the outlet."""
    end = bench.add("", "bank", "flow-bank")
    for number, agent in enumerate(bench.draw(st.sampled_from(((), AGENTS[:1], AGENTS[1:]))), 1):
        end = bench.add(end, f"vaporizer-{number}", "vaporizer", "", {"agent": agent})
        bench.settings[f"vaporizer-{number}"] = {"dial": bench.draw(st.sampled_from((0.0, 0.01, 0.06)))}
    if bench.maybe():
        bench.add(end, "relief", "relief-valve")
    end = bench.maybe_add(end, "outlet-check", "check-valve", "", {"place": "outlet"})
    bench.add(end, "outlet", "outlet")
    flush = bench.add(oxygen, "flush", "flush-valve", "oxygen")
    bench.settings["flush"] = {"pressed": float(bench.maybe())}
    bench.lines.append(f"{flush} > outlet.in")
    return "outlet.out"


def breathed(bench, fresh):
    """A circle with bag, spill valve and scavenging."""
    end = bench.add("absorber.out", "inspiratory-valve", "one-way-valve")
    bench.lines.append(f"{fresh} > inspiratory-valve.in")
    end = bench.add(end, "patient", "patient-connection")
    end = bench.add(end, "expiratory-valve", "one-way-valve")
    bench.add(end, "absorber", "absorber")
    bench.add(end, "bag", "reservoir-bag")
    bench.add(end, "apl", "apl-valve")
    bench.components.append(component("scavenging", "scavenging-interface"))
    bench.lines.append("apl.vent > scavenging.in")
    bench.settings["patient"] = {"ventilation": bench.number(0, 12) * LPM}
    bench.settings["apl"] = {"set_pressure": bench.draw(st.sampled_from((0.0, 500.0, 6e3)))}
    bench.settings["scavenging"] = {"extract_flow": bench.draw(st.sampled_from((0.0, 40.0))) * LPM}


@st.composite
def machines(draw) -> tuple[Circuit, State]:
    """A machine that check_circuit has nothing to say of, and a state of it."""
    bench = Bench(draw)
    gases = ("oxygen", *draw(st.sampled_from((OTHERS, OTHERS[:1], OTHERS[1:], ()))))
    ends = {gas: supplied(bench, gas) for gas in gases}
    fresh = mixed(bench, ends["oxygen"])
    for gas in gases:
        metered(bench, gas, ends[gas], ends["oxygen"], len(gases) > 1)
    if bench.maybe():
        breathed(bench, fresh)
    circuit = built(bench.components, *bench.lines, ambient=draw(st.sampled_from((101_325.0, 84_560.0))))
    return circuit, State("random", "random", bench.settings)


@st.composite
def failed_machines(draw) -> tuple[Circuit, State, tuple[Fault, ...]]:
    """A machine in a state, whole or with one component failed."""
    circuit, state = draw(machines())
    faults = [Fault(one.code, mode) for one in circuit.components for mode in ELEMENTS[one.kind].failures]
    return circuit, state, draw(st.one_of(st.just(()), st.tuples(st.sampled_from(faults))))


@st.composite
def leaking_machines(draw) -> tuple[Circuit, State, Fault]:
    """A machine in a state, and a part of it that may leak."""
    circuit, state = draw(machines())
    components = [one for one in circuit.components if "leaking" in ELEMENTS[one.kind].failures and one.kind != "check-valve"]
    return circuit, state, Fault(draw(st.sampled_from(components)).code, "leaking")
