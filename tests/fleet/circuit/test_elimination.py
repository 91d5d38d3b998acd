"""Gas that spreads along flows: exact in loops, and the same as by linear algebra where that is good enough."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

from fleet.circuit.elimination import Elimination


def weights_of(elimination, matrices):
    """The weights of some networks, shape (networks, size, size), at their places."""
    found = np.zeros((elimination.count, len(matrices)))
    for (i, j), place in elimination.places.items():
        found[place] = matrices[:, i, j]
    return found


def test_a_loop_that_gets_next_to_nothing_is_filled_with_just_that():
    # Two junctions that pass 1 to and fro; 1e-15 of it comes to the first from outside, half of each gas. Plain
    # elimination would take 1 from 1 + 1e-15 and lose it.
    elimination = Elimination([(0, 1)], 2)
    bound, own = np.array([[1e-15], [0.0]]), np.array([[[5e-16], [5e-16]], [[0.0], [0.0]]])
    found = elimination.solve(weights_of(elimination, np.array([[[0.0, 1.0], [1.0, 0.0]]])), bound, own)
    assert found[:, :, 0] == approx(np.full((2, 2), 0.5), rel=1e-12)


@st.composite
def flows(draw):
    """Flows between up to 12 junctions in up to 3 networks; to the first junction nothing flows, it is the room."""
    size, count = draw(st.integers(2, 12)), draw(st.integers(1, 3))
    numbers = st.integers(0, size - 1)
    pairs = draw(st.lists(st.tuples(numbers, numbers), max_size=3 * size))
    matrices = np.zeros((count, size, size))
    for i, j in pairs:
        if i != j and i:
            matrices[:, i, j] = [draw(st.floats(0, 10)) for _ in range(count)]
    return size, pairs, matrices, 0.1 + np.arange(size * count).reshape(size, count) % 7


@given(flows())
@settings(max_examples=80, deadline=None)
def test_gas_spreads_as_linear_algebra_says(made):
    size, pairs, matrices, bound = made
    elimination = Elimination(pairs, size, [0])
    own = np.stack((bound * 0.3, bound * np.linspace(0, 1, size)[:, None]), axis=1)
    systems = np.einsum("ni,ij->nij", matrices.sum(axis=2) + bound.T, np.eye(size)) - matrices
    expected = np.linalg.solve(systems, own.transpose(2, 0, 1))
    found = elimination.solve(weights_of(elimination, matrices), bound.copy(), own.copy())
    assert found.transpose(2, 0, 1) == approx(expected, rel=1e-9, abs=1e-12)


@given(flows())
@settings(max_examples=80, deadline=None)
def test_unknowns_are_those_of_linear_algebra(made):
    size, pairs, matrices, bound = made
    elimination = Elimination(pairs, size, [0])
    matrices[:, :, 0] = 0.0
    diagonal, right = -(matrices.sum(axis=2).T + bound), bound * 0.5 - 1
    right[0] = 0.0
    systems = np.einsum("ni,ij->nij", diagonal.T, np.eye(size)) + matrices
    expected = np.linalg.solve(systems, right.T[..., None])[..., 0]
    found = elimination.unknowns(diagonal.copy(), weights_of(elimination, matrices), right.copy())
    assert approx(expected, rel=1e-9, abs=1e-12) == found.T
