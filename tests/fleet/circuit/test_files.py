"""Circuit files: written and read back unchanged; a refusal lists every mistake with its place."""

import json
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx, mark

from fleet.catalogue import COMPONENT_KINDS, FEATURES, GASES
from fleet.catalogue.components import GasRule
from fleet.catalogue.dimensions import DIMENSIONS
from fleet.circuit.digest import circuit_digest
from fleet.circuit.elements import ELEMENTS
from fleet.circuit.file_component import dimensions_of
from fleet.circuit.files import CircuitFileError, read_circuit, write_circuit
from fleet.circuit.network import MOST_CONNECTIONS, MOST_COMPONENTS
from fleet.circuit.structure import Circuit, Connection, Component, Port
from fleet.circuit.units import SI_UNITS, UNITS_BY_DIMENSION, factor, short_in, to_si

ODD = Path(__file__).parent / "odd_files"

# Each file with its expected problems: the place, and a piece of the message.
SAID = {
    "not_toml": [("the file", "not valid TOML: Illegal character '\\n' (at line 1, column 13)")],
    "empty": [("the file", "has no [[component]]; write one for each component")],
    "component_is_no_list": [("the file", "part must be tables, each headed [[part]]")],
    "misspelt_keys": [
        ("the file", "'titel' is not a known key. Accepted: title, code, fittings"),
        ("part 1 (outlet), line 3", "'lable' is not a known key. Accepted: code, kind, label, gas"),
        ("part 1 (outlet), line 3", "label is missing"),
    ],
    "unknown_kind": [("part 1 (outlet), line 3", "'common-gas-outlet' is not a kind of component. Accepted: ")],
    "doubled_code": [("part 2 (outlet), line 8", "code 'outlet' is already used by part 1 (outlet), line 3; ")],
    "doubled_label": [("part 2 (outlet-2), line 5", "label 'Common gas outlet' is already used by part 1 (outl")],
    "connection_to_nothing": [
        ("joint 1, line 8", "to names the component 'fresh-gas-hose', which is not in the file. Accepted: outlet.")
    ],
    "unknown_port": [("joint 1, line 9", "to names the port 'inlet' of 'bag'. Accepted: in.")],
    "port_without_dot": [("joint 1, line 9", "from is 'outlet'; write the component's code, a dot and the port")],
    "connections_twice_and_to_itself": [
        ("joint 2, line 10", "connects bag.in to outlet.out again, after joint 1, line 9; remove one"),
        ("joint 3, line 11", "connects outlet.in to itself; name two ports"),
    ],
    "unit_of_another_dimension": [
        ("part 1 (oxygen-regulator), line 3", "output_pressure has the unit 'L/min'. Accepted: kPa, psi, bar, mmHg")
    ],
    "unknown_unit": [("part 1 (oxygen-regulator), line 3", "output_pressure has the unit 'atm'. Accepted: kPa, psi")],
    "unknown_value": [
        ("part 1 (oxygen-regulator), line 3", "'outlet_pressure' is not a value of a pressure regulator. Accepted: ")
    ],
    "number_without_unit": [
        ("part 1 (oxygen-regulator), line 3", 'output_pressure is 45; write number and unit, such as output_pressure =')
    ],
    "numbers_that_cannot_be": [
        ("part 1 (oxygen-regulator), line 3", "output_pressure is nan psi; write a finite number"),
        ("part 1 (oxygen-regulator), line 3", "relief_pressure is -5 psi; accepted: 0 or more"),
        ("part 1 (oxygen-regulator), line 3", "rated_flow is ['ten', 'L/min']; write number and unit"),
        ("part 2 (oxygen-analyser), line 10", "alarm_low is 210 %; a fraction is at most 100 %"),
    ],
    "unknown_option": [
        ("part 1 (air-cut-off-valve), line 3", "type is 'sudden'. Accepted: shut-off, proportional"),
        ("part 1 (air-cut-off-valve), line 3", "'place' is not an option of a supply-failure valve. Accepted: type"),
    ],
    "gas_missing_and_unwanted": [
        ("part 1 (yoke), line 4", "gas is missing; a cylinder yoke carries one of oxygen, "),
        ("part 2 (outlet), line 5", "gas is 'oxygen', but a common gas outlet carries no single gas; leave it out"),
        ("part 3 (air-inlet), line 6", "'compressed air' is not a gas. Accepted: oxygen, "),
    ],
    "fittings_unknown_and_twice": [
        ("the file", "fittings names 'pin-indexed'. Accepted: o2-failure-protection"),
        ("the file", "fittings names 'pin-index' twice; remove one"),
    ],
    "code_is_no_slug": [
        ("part 1 (Common Gas Outlet), line 3", "code is 'Common Gas Outlet'; write small letters, digits and single")
    ],
    "label_of_two_lines": [("part 1 (outlet), line 3", "label must be one line of at most 120 characters")],
    "values_is_a_list": [
        ("part 1 (outlet), line 3", "values is [1, 'kPa']; write keys and values in curly brackets"),
        ("part 1 (outlet), line 3", "options is 'none'; write keys and values in curly brackets"),
    ],
}  # fmt: skip


@mark.parametrize("name", SAID)
def test_an_odd_file_is_refused_with_every_slip_and_its_place(name):
    with pytest.raises(CircuitFileError) as refused:
        read_circuit((ODD / f"{name}.toml").read_text(encoding="utf-8"))
    problems = refused.value.problems
    assert [problem.place for problem in problems] == [place for place, _ in SAID[name]]
    for problem, (_, piece) in zip(problems, SAID[name], strict=True):
        assert piece in problem.message


def test_every_odd_file_is_tried():
    assert {path.stem for path in ODD.glob("*.toml")} == set(SAID)


def test_a_file_too_large_for_a_circuit_is_refused_unread():
    with pytest.raises(CircuitFileError, match="has 100001 characters; accepted: 100000 at most"):
        read_circuit("#" * 100_001)


def test_nesting_without_end_is_refused_and_not_followed():
    with pytest.raises(CircuitFileError, match="is not valid TOML"):
        read_circuit("part = " + "[" * 4_000)


SMALL = """
title = "Oxygen alone"
fittings = ["pin-index"]

[[part]]
code = "oxygen-inlet"
kind = "pipeline-inlet"
label = "Oxygen inlet"
gas = "oxygen"
values = { pipeline_pressure = [50, "psi"] }

[[part]]
code = "flush"
kind = "flush-valve"
label = "Flush"
gas = "oxygen"
values = { supply_pressure = [4, "bar"], flush_flow = [45, "L/min"] }

[[joint]]
from = "oxygen-inlet.out"
to = "flush.in"
size = "DISS 1240"
"""


def test_values_come_out_in_si_by_the_definitions_of_their_units():
    # 1 psi = 1 lb x 9.80665 m/s2 / in2 = 0.45359237 x 9.80665 / 0.0254^2 Pa. Source: from memory, exact by definition
    circuit = read_circuit(SMALL)
    assert circuit.component("oxygen-inlet").values["pipeline_pressure"] == approx(
        50 * 0.45359237 * 9.80665 / 0.0254**2, rel=1e-12
    )
    assert circuit.component("flush").values["supply_pressure"] == approx(400_000, rel=1e-12)
    assert circuit.component("flush").values["flush_flow"] == approx(45 / 60_000, rel=1e-12)
    assert circuit.connections == (Connection(Port("oxygen-inlet", "out"), Port("flush", "in"), "DISS 1240"),)
    assert circuit.fittings == {"pin-index"}


def test_the_title_given_stands_in_where_the_file_names_none():
    text = SMALL.replace('title = "Oxygen alone"', "")
    assert (read_circuit(text, title="Three").title, read_circuit(SMALL, title="Three").title) == (
        "Three",
        "Oxygen alone",
    )


@mark.parametrize(
    ("unit", "si"),
    [  # Source: ISO 80000-4 (conventional columns), NIST SP 811 appendix B.8 (psi, from memory)
        ("cmH2O", 98.0665),
        ("mmHg", 133.322387415),
        ("psi", 6894.757),
        ("bar", 1e5),
        ("L/min", 1 / 60_000),
        ("mL/min per kPa", 1 / 6e10),
        ("psi per L/min", 6894.757 * 60_000),
    ],
)
def test_a_unit_is_worth_what_its_definition_says(unit, si):
    assert factor(unit) == approx(si, rel=1e-7)


def test_a_temperature_in_degrees_is_told_from_kelvin():
    assert to_si(20, "°C") == 293.15


@given(value=st.floats(0, 1e9), dimension=st.sampled_from(sorted(UNITS_BY_DIMENSION)))
def test_a_number_written_short_is_the_very_number_when_read(value, dimension):
    for unit in UNITS_BY_DIMENSION[dimension]:
        assert to_si(*short_in(value, unit, SI_UNITS[dimension])) == value


def test_every_value_of_an_element_says_what_it_measures():
    lost = [(kind, key) for kind, element in ELEMENTS.items() for key, value in element.values.items()
            if value.dimension not in UNITS_BY_DIMENSION and key not in _rated(kind)]  # fmt: skip
    assert lost == []


def _rated(kind):
    return {value.key for value in COMPONENT_KINDS[kind].rated}


WORDS = st.text(st.characters(categories=["L", "N", "P", "S", "Zs"]), min_size=1, max_size=30).filter(str.strip)
CODES = st.from_regex(r"[a-z0-9]{1,8}(-[a-z0-9]{1,8}){0,2}", fullmatch=True)


def plausible(dimension):
    bounds = DIMENSIONS[dimension].bounds
    return st.just(0.0) | st.floats(bounds.finest, 1 if dimension == "fraction" else bounds.high)


@st.composite
def components(draw, code, label):
    kind = COMPONENT_KINDS[draw(st.sampled_from(sorted(COMPONENT_KINDS)))]
    gas = "" if kind.gas is GasRule.NONE else draw(st.sampled_from(sorted(GASES)))
    dimensions = dimensions_of(kind)
    keys = draw(st.lists(st.sampled_from(sorted(dimensions)), unique=True, max_size=3)) if dimensions else []
    values = {key: draw(plausible(dimensions[key])) for key in keys}
    options = {
        key: draw(st.sampled_from(words) if words != ("",) else WORDS)
        for key, words in ELEMENTS[kind.code].options.items()
        if draw(st.booleans())
    }
    return Component(code, kind.code, label, gas, MappingProxyType(values), MappingProxyType(options))


@st.composite
def circuits(draw):
    codes = draw(st.lists(CODES, unique=True, min_size=1, max_size=5))
    labels = draw(st.lists(WORDS.map(str.strip), unique=True, min_size=len(codes), max_size=len(codes)))
    made = tuple(draw(components(code, label)) for code, label in zip(codes, labels, strict=True))
    ports = [Port(component.code, port) for component in made for port in COMPONENT_KINDS[component.kind].ports]
    pairs = [(a, b) for number, a in enumerate(ports) for b in ports[:number]]
    joined = draw(st.lists(st.sampled_from(pairs), unique=True, max_size=6)) if pairs else []
    sizes = st.sampled_from(["", "22 mm", 'DISS "1240"'])
    return Circuit(
        draw(CODES),
        draw(WORDS.map(str.strip)),
        made,
        tuple(Connection(a, b, draw(sizes)) for a, b in joined),
        frozenset(draw(st.lists(st.sampled_from(sorted(FEATURES)), max_size=3))),
        draw(st.sampled_from([101_325.0, 83_432.0, 61_640.17])),
    )


@settings(max_examples=60, deadline=None)
@given(circuit=circuits())
def test_a_circuit_written_and_read_is_the_same_circuit(circuit):
    assert read_circuit(write_circuit(circuit)) == circuit


def in_current_words(text):
    """A circuit file with [[component]] and [[connection]] in place of [[part]] and [[joint]], in either form."""
    for older, word in (("part", "component"), ("joint", "connection")):
        text = text.replace(f"[[{older}]]", f"[[{word}]]").replace(f"\n{older} = [", f"\n{word} = [")
    return text


@given(circuit=circuits())
@settings(max_examples=25, deadline=None)
def test_component_and_connection_are_read_like_part_and_joint(circuit):
    text = write_circuit(circuit)
    assert "\npart = [" in text and "\njoint = [" in text  # what earlier releases read
    assert read_circuit(in_current_words(text)) == circuit
    assert read_circuit(in_current_words(SMALL)) == read_circuit(SMALL)


def test_both_words_may_stand_in_one_file():
    mixed = SMALL.replace("[[part]]", "[[component]]", 1).replace("[[joint]]", "[[connection]]")
    assert circuit_digest(read_circuit(mixed)) == circuit_digest(read_circuit(SMALL))


def test_a_problem_is_placed_by_the_word_that_the_file_uses():
    text = in_current_words(SMALL).replace('label = "Flush"\n', "").replace("flush.in", "flush.inlet")
    with pytest.raises(CircuitFileError) as refused:
        read_circuit(text)
    assert [problem.place for problem in refused.value.problems] == [
        "component 2 (flush), line 12",
        "connection 1, line 18",
    ]


@mark.parametrize(("words", "most"), [(("component", "part"), MOST_COMPONENTS), (("connection", "joint"), MOST_CONNECTIONS)])
def test_the_two_words_together_are_held_to_one_limit(words, most):
    text = "".join(f"[[{word}]]\n" * (most // 2 + 1) for word in words)
    with pytest.raises(CircuitFileError, match=f"has {2 * (most // 2 + 1)} .* accepted: {most} at most"):
        read_circuit(text)


SCALARS = st.one_of(st.integers(-5, 5), st.booleans(), st.floats(), st.sampled_from(["", "outlet", "outlet.in", "psi"]))
ANYTHING = st.recursive(
    SCALARS,
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(st.sampled_from("ab"), inner, max_size=2)),
    max_leaves=4,
)


def toml(value):
    """A value as TOML writes it on one line."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {toml(inner)}" for key, inner in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(toml, value)) + "]"
    return str(value).lower() if isinstance(value, bool | float) else json.dumps(value)


@settings(max_examples=150, deadline=None)
@given(
    key=st.sampled_from(
        ["code", "kind", "label", "gas", "values", "options", "from", "to", "size", "part", "fittings"]
    ),
    value=ANYTHING,
)
def test_whatever_stands_in_place_of_a_value_is_accepted_or_refused_in_words(key, value):
    component = {"code": "outlet", "kind": "outlet", "label": "Outlet"}
    connection = {"from": "outlet.in", "to": "outlet.out"}
    top = {"title": "Odd", "part": [component], "joint": [connection]}
    place = {"part": top, "fittings": top, "from": connection, "to": connection, "size": connection}.get(key, component)
    place[key] = value
    try:
        circuit = read_circuit("\n".join(f"{name} = {toml(inner)}" for name, inner in top.items()))
    except CircuitFileError as refused:
        assert refused.problems and all(problem.place and problem.message for problem in refused.problems)
    else:
        assert read_circuit(write_circuit(circuit)) == circuit


def test_a_circuit_read_and_written_is_the_same_text():
    once = write_circuit(read_circuit(SMALL))
    assert write_circuit(read_circuit(once)) == once


def test_no_label_can_end_the_text_that_holds_it():
    component = replace(read_circuit(SMALL).components[0], label='a" }, { code = "b\\')
    circuit = replace(read_circuit(SMALL), components=(component,), connections=())
    assert read_circuit(write_circuit(circuit)) == circuit
