"""What is said of a circuit that cannot be right."""

from dataclasses import replace

import pytest

from fleet.circuit.elements.base import Boundary, Plumbing
from fleet.circuit.gases import ROOM_AIR
from fleet.circuit.network import check_circuit
from fleet.circuit.structure import Connection, Component, Port
from tests.fleet.circuit.small_laws import KINDS, Plug, Supply, circuit, joined, component


class Link(Plug):
    """Acts on another component, which an option without choices names."""

    kind = "exclusion-bar"
    options = {"vaporizers": ()}


class Held(Supply):
    def plumbing(self):
        return Plumbing((), (Boundary(self.port("out"), 5e5, ROOM_AIR),))


def said(made, **kinds):
    return [str(problem) for problem in check_circuit(made, {**KINDS, "exclusion-bar": Link, **kinds})]


def good():
    return circuit(
        [
            component("oxygen", "pipeline-inlet", "oxygen"),
            component("nitrous", "pipeline-inlet", "nitrous-oxide"),
            component("cut-off", "supply-failure-valve", "nitrous-oxide"),
            component("bank", "flow-bank"),
            component("valve", "check-valve"),
            component("outlet", "outlet"),
        ],
        "nitrous.out > cut-off.in",
        "oxygen.out > cut-off.oxygen",
        "oxygen.out > bank.in",
        "cut-off.out > bank.in",
        "bank.out > valve.in",
        "valve.out > outlet.in",
    )


def with_components(*components):
    return replace(good(), components=(*good().components, *components))


def with_connections(*pairs):
    return replace(good(), connections=(*good().connections, *joined(*pairs)))


def without_connection(pair):
    return replace(good(), connections=tuple(connection for connection in good().connections if connection not in joined(pair)))


def test_nothing_is_said_of_a_circuit_that_is_right():
    assert said(good()) == []


@pytest.mark.parametrize(
    ("made", "words"),
    [
        (
            without_connection("valve.out > outlet.in"),
            ["valve: The port 'out' of valve is not connected: gas would escape", "'in' of outlet", "to outlet"],
        ),
        (without_connection("oxygen.out > cut-off.oxygen"), ["cut-off: Nothing is connected to the port 'oxygen' of "]),
        (with_connections("valve.out > outlet.inn"), ["outlet has no port 'inn'. Its ports: in, out."]),
        (with_connections("valve.out > gone.in"), ["leads to 'gone', which does not exist. If it was removed"]),
        (with_connections("valve.out > valve.out"), ["back to the same port"]),
        (with_connections("outlet.in > valve.out"), ["connected more than once"] * 2),
        (with_components(component("valve", "check-valve")), ["valve: 2 components have this code (valve, valve)"]),
        (with_components(component("what", "whatsit")), ["what: what is of the unknown kind 'whatsit'. Accepted: pipe"]),
        (
            with_components(component("plug", "yoke-block", "helox")),
            ["plug carries 'helox', not a gas", "'in' of plug", "plug"],
        ),
        (with_components(Component("bar", "exclusion-bar", "bar", options={"vaporizers": "one, outlet"})), ["acts on 'one'"]),
    ],
)
def test_what_is_wrong_is_said_with_the_component_and_what_to_do(made, words):
    problems = said(made)
    assert len(problems) == len(words)
    for problem, word in zip(problems, words, strict=True):
        assert word in problem


def test_a_component_that_carries_one_gas_says_which():
    made = replace(good(), components=(*good().components[1:], component("oxygen", "pipeline-inlet")))
    assert "oxygen: oxygen needs its gas stated. Accepted: oxygen" in said(made)[0]


def test_gas_into_a_port_of_another_gas_is_named_at_the_connection():
    problems = said(with_connections("oxygen.out > cut-off.in"))
    assert problems[0].startswith('oxygen.out to cut-off.in: oxygen (port "out") carries Oxygen, and cut off (port')


def test_gas_that_crosses_by_way_of_a_valve_for_any_gas_is_found():
    made = circuit(
        [
            component("oxygen", "pipeline-inlet", "oxygen"),
            component("valve", "check-valve"),
            component("filter", "filter", "air"),
            component("outlet", "outlet"),
        ],
        "oxygen.out > valve.in",
        "valve.out > filter.in",
        "filter.out > outlet.in",
    )
    assert "One line carries more than one gas: " in said(made)[0]


def test_two_supplies_on_one_pipe_are_found():
    made = with_components(component("second", "pipeline-inlet", "oxygen"))
    made = replace(made, connections=(*made.connections, *joined("second.out > oxygen.out")))
    assert any('second (port "out") are connected directly' in p for p in said(made, **{"pipeline-inlet": Held}))


def test_a_loop_without_a_source_is_found():
    loop = [component("hose", "filter", "air"), component("back", "flow-bank")]
    made = with_components(*loop, component("third", "filter", "air"))
    made = replace(
        made, connections=(*made.connections, *joined("hose.out > back.in", "back.out > third.in", "third.out > hose.in"))
    )
    assert said(made) == [
        "hose: They form a loop without a source: no supply leads to hose, back, third. Connect them to a pipeline "
        "inlet or a yoke, or remove them."
    ]


def test_a_component_that_nothing_leads_to_is_found():
    made = with_components(component("spare", "flow-bank"), component("end", "outlet"))
    made = replace(made, connections=(*made.connections, Connection(Port("spare", "out"), Port("end", "in"))))
    assert [problem for problem in said(made) if "No supply leads to spare, end." in problem]
