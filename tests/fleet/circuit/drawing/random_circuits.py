"""Circuits that nobody would build: any components, joined anyhow."""

from hypothesis import strategies as st

from fleet.catalogue import COMPONENT_KINDS, GASES
from fleet.circuit.structure import Circuit, Connection, Component, Port

WORDS = ("Oxygen", "pipeline", "check valve", "of the second stage", "Vaporizer 2, sevoflurane", "W" * 40, "x")


@st.composite
def circuits(draw, most=14):
    kinds = draw(st.lists(st.sampled_from(sorted(COMPONENT_KINDS)), min_size=1, max_size=most))
    gases = st.sampled_from(["", *list(GASES)[:4]])
    labels = st.lists(st.sampled_from(WORDS), min_size=1, max_size=4).map(" ".join)
    components = [Component(f"part-{number}", kind, draw(labels), draw(gases)) for number, kind in enumerate(kinds)]
    ports = [Port(component.code, name) for component in components for name in COMPONENT_KINDS[component.kind].ports]
    pairs = (
        st.lists(st.tuples(st.sampled_from(ports), st.sampled_from(ports)), max_size=2 * most) if ports else st.just([])
    )
    connections = {Connection(*pair) for pair in draw(pairs) if pair[0] != pair[1]}
    return Circuit("random", "Random", tuple(components), tuple(sorted(connections, key=str)))
