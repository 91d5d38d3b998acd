"""Small circuits of real components, put together in few words, for tests."""

from types import MappingProxyType

from fleet.circuit.solver import solve
from fleet.circuit.state import State
from fleet.circuit.structure import Circuit, Connection, Component, Port

LPM = 1e-3 / 60  # m3/s
ROOM_PA = 101_325.0
PSI = 6894.757293168  # Pa. Source: exact by definition of pound and inch
PIPELINE_PA = 345e3  # gauge; 50 psi rounded


def component(code, kind, gas="", options=None, **values):
    """A component whose label is its code in words."""
    return Component(code, kind, code.replace("-", " "), gas, MappingProxyType(values), MappingProxyType(options or {}))


def connections(*lines):
    """Connections from lines such as "wall.out > pipe.in", one for each arrow."""
    made = []
    for line in lines:
        ends = [Port(*end.strip().split(".")) for end in line.split(">")]
        made += [Connection(one, other) for one, other in zip(ends, ends[1:], strict=False)]
    return tuple(made)


def built(components, *lines, fittings=(), ambient=ROOM_PA):
    return Circuit("worked", "worked circuit", tuple(components), connections(*lines), frozenset(fittings), ambient)


def state(**settings):
    """A state by component: names with _ for -. Every oxygen and nitrous oxide pipeline is at 345 kPa unless told."""
    pipelines = {f"{gas}-inlet": {"supply_pressure": PIPELINE_PA} for gas in ("oxygen", "nitrous-oxide", "air")}
    given = {code.replace("_", "-"): what for code, what in settings.items()}
    both = {code: {**pipelines.get(code, {}), **given.get(code, {})} for code in {**pipelines, **given}}
    return State("worked", "as worked out", both)


def for_components(one: State, circuit: Circuit) -> State:
    """The state without what is set on components that this circuit lacks."""
    there = {component.code for component in circuit.components}
    return State(one.code, one.title, {code: what for code, what in one.settings.items() if code in there})


def lane(gas, joins="bank.in", **values):
    """A gas from the wall to the bank: components, and the line that joins them."""
    components = [
        component(f"{gas}-inlet", "pipeline-inlet", gas),
        component(f"{gas}-control", "flow-control", gas, supply_pressure=PIPELINE_PA, **values),
        component(f"{gas}-flowmeter", "flowmeter", gas),
    ]
    line = f"{gas}-inlet.out > {gas}-control.in"
    return components, [line, f"{gas}-control.out > {gas}-flowmeter.in", f"{gas}-flowmeter.out > {joins}"]


def bank_and_outlet(*between):
    """The bank, what stands between it and the outlet by (code, kind, options), and the outlet."""
    components = [component("bank", "flow-bank"), *(component(*one[:2], "", *one[2:]) for one in between), component("outlet", "outlet")]
    codes = [one.code for one in components]
    return components, [f"{one}.out > {other}.in" for one, other in zip(codes, codes[1:], strict=False)]


def two_gases(*between, joins="bank.in", extra=(), lines=(), ambient=ROOM_PA):
    """Oxygen and nitrous oxide from wall to outlet; oxygen joins the bank at `joins`."""
    components, joined = [], []
    for more, line in (lane("oxygen", joins), lane("nitrous-oxide"), bank_and_outlet(*between)):
        components += more
        joined += line
    return built([*components, *extra], *joined, *lines, ambient=ambient)


def drop(flow, drop0, flow0):
    """What a pipe loses: 30 % of its drop in proportion to flow, 70 % to its square."""
    x = flow / flow0
    return drop0 * (0.3 * x + 0.7 * x * x)


def solved(circuit, how, *faults, **options):
    """The solution, whose imbalance is held to 1e-9 every time."""
    found = solve(circuit, for_components(how, circuit), faults, **options)
    assert found.imbalance < 1e-9
    return found


def flow(found, code, name="through"):
    """Flow in L/min."""
    return found.flow(code, name).value_m3_s / LPM
