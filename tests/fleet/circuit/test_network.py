"""What is said of a circuit that cannot be right."""

from dataclasses import replace

import pytest

from fleet.circuit.elements.base import Boundary, Plumbing
from fleet.circuit.gases import ROOM_AIR
from fleet.circuit.network import check_circuit
from fleet.circuit.structure import Joint, Part, Port
from tests.fleet.circuit.small_laws import KINDS, Plug, Supply, circuit, joined, part


class Link(Plug):
    """Acts on another part, which an option without choices names."""

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
            part("oxygen", "pipeline-inlet", "oxygen"),
            part("nitrous", "pipeline-inlet", "nitrous-oxide"),
            part("cut-off", "supply-failure-valve", "nitrous-oxide"),
            part("bank", "flow-bank"),
            part("valve", "check-valve"),
            part("outlet", "outlet"),
        ],
        "nitrous.out > cut-off.in",
        "oxygen.out > cut-off.oxygen",
        "oxygen.out > bank.in",
        "cut-off.out > bank.in",
        "bank.out > valve.in",
        "valve.out > outlet.in",
    )


def with_parts(*parts):
    return replace(good(), parts=(*good().parts, *parts))


def with_joints(*pairs):
    return replace(good(), joints=(*good().joints, *joined(*pairs)))


def without_joint(pair):
    return replace(good(), joints=tuple(joint for joint in good().joints if joint not in joined(pair)))


def test_nothing_is_said_of_a_circuit_that_is_right():
    assert said(good()) == []


@pytest.mark.parametrize(
    ("made", "words"),
    [
        (
            without_joint("valve.out > outlet.in"),
            ["valve: The port 'out' of valve is not connected: gas would escape", "'in' of outlet", "to outlet"],
        ),
        (without_joint("oxygen.out > cut-off.oxygen"), ["cut-off: Nothing is connected to the port 'oxygen' of "]),
        (with_joints("valve.out > outlet.inn"), ["outlet has no port 'inn'. Its ports: in, out."]),
        (with_joints("valve.out > gone.in"), ["leads to 'gone', which does not exist. If it was removed"]),
        (with_joints("valve.out > valve.out"), ["back to the same port"]),
        (with_joints("outlet.in > valve.out"), ["connected more than once"] * 2),
        (with_parts(part("valve", "check-valve")), ["valve: 2 components have this code (valve, valve)"]),
        (with_parts(part("what", "whatsit")), ["what: what is of the unknown kind 'whatsit'. Accepted: pipe"]),
        (
            with_parts(part("plug", "yoke-block", "helox")),
            ["plug carries 'helox', not a gas", "'in' of plug", "plug"],
        ),
        (with_parts(Part("bar", "exclusion-bar", "bar", options={"vaporizers": "one, outlet"})), ["acts on 'one'"]),
    ],
)
def test_what_is_wrong_is_said_with_the_part_and_what_to_do(made, words):
    problems = said(made)
    assert len(problems) == len(words)
    for problem, word in zip(problems, words, strict=True):
        assert word in problem


def test_a_part_that_carries_one_gas_says_which():
    made = replace(good(), parts=(*good().parts[1:], part("oxygen", "pipeline-inlet")))
    assert "oxygen: oxygen needs its gas stated. Accepted: oxygen" in said(made)[0]


def test_gas_into_a_port_of_another_gas_is_named_at_the_joint():
    problems = said(with_joints("oxygen.out > cut-off.in"))
    assert problems[0].startswith('oxygen.out to cut-off.in: oxygen (port "out") carries Oxygen, and cut off (port')


def test_gas_that_crosses_by_way_of_a_valve_for_any_gas_is_found():
    made = circuit(
        [
            part("oxygen", "pipeline-inlet", "oxygen"),
            part("valve", "check-valve"),
            part("filter", "filter", "air"),
            part("outlet", "outlet"),
        ],
        "oxygen.out > valve.in",
        "valve.out > filter.in",
        "filter.out > outlet.in",
    )
    assert "One line carries more than one gas: " in said(made)[0]


def test_two_supplies_on_one_pipe_are_found():
    made = with_parts(part("second", "pipeline-inlet", "oxygen"))
    made = replace(made, joints=(*made.joints, *joined("second.out > oxygen.out")))
    assert any('second (port "out") are connected directly' in p for p in said(made, **{"pipeline-inlet": Held}))


def test_a_loop_without_a_source_is_found():
    loop = [part("hose", "filter", "air"), part("back", "flow-bank")]
    made = with_parts(*loop, part("third", "filter", "air"))
    made = replace(
        made, joints=(*made.joints, *joined("hose.out > back.in", "back.out > third.in", "third.out > hose.in"))
    )
    assert said(made) == [
        "hose: They form a loop without a source: no supply leads to hose, back, third. Connect them to a pipeline "
        "inlet or a yoke, or remove them."
    ]


def test_a_part_that_nothing_leads_to_is_found():
    made = with_parts(part("spare", "flow-bank"), part("end", "outlet"))
    made = replace(made, joints=(*made.joints, Joint(Port("spare", "out"), Port("end", "in"))))
    assert [problem for problem in said(made) if "No supply leads to spare, end." in problem]
