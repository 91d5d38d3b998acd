"""What must hold of the cover table of any machine, drawn at random."""

from dataclasses import replace
from types import MappingProxyType

from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.circuit.causes import causes_of
from fleet.circuit.cover import CoverSheet, cover_table
from fleet.circuit.cover_rows import Status
from fleet.circuit.elements import ELEMENTS
from tests.fleet.circuit.random_circuits import machines


@settings(max_examples=30, deadline=None)
@given(drawn=machines(), data=st.data())
def test_removing_features_never_closes_a_hazard_of_any_machine(drawn, data):
    made = CoverSheet(drawn[0])
    each = data.draw(st.sampled_from(causes_of(made.circuit)))
    codes = sorted(made.protections.present)
    fewer = frozenset(data.draw(st.sets(st.sampled_from(codes)))) if codes else frozenset()
    assert set(made.open_hazards(each)) <= set(made.open_hazards(each, fewer))


def failing(circuit, data):
    """Return the circuit with the failed results of an inspection on some of its components."""
    components = []
    for component in circuit.components:
        modes = list(ELEMENTS[component.kind].failures)
        keys = sorted(ELEMENTS[component.kind].values)
        what = data.draw(st.sampled_from(("", "", "", "failure", "value")))
        if what == "failure" and modes:
            component = replace(component, failed=data.draw(st.sampled_from(modes)), sound_values=component.values)
        elif what == "value" and keys:
            key = data.draw(st.sampled_from(keys))
            default = component.values.get(key, ELEMENTS[component.kind].values[key].default) or 1e-6
            value = default * data.draw(st.sampled_from((0.3, 0.7, 1.3, 1.8)))
            component = replace(
                component, values=MappingProxyType({**component.values, key: value}), sound_values=component.values
            )
        components.append(component)
    return replace(circuit, components=tuple(components))


@settings(max_examples=12, deadline=None)
@given(drawn=machines(), data=st.data())
def test_no_failed_result_closes_a_hazard(drawn, data):
    circuit, found = drawn[0], failing(drawn[0], data)
    causes = data.draw(
        st.lists(st.sampled_from(causes_of(circuit)), min_size=1, max_size=3, unique_by=lambda each: each.code)
    )
    try:
        sound, failed = cover_table(circuit, causes=causes), cover_table(found, causes=causes)
    except Exception as error:  # the machine as found has no ordinary use
        assert "NoSolution" in type(error).__name__
        return
    unsolved = {each.cause.code for each in failed.unsolved}
    for row in sound.open_rows:
        for inside in row.beneath or (row,):
            if inside.status is Status.OPEN and inside.cause.code not in unsolved:
                assert (inside.hazard, inside.cause.code) in still_open(failed)


def still_open(table):
    inside = [each for row in table.open_rows for each in row.beneath or (row,)]
    return {(row.hazard, row.cause.code) for row in inside if row.status is Status.OPEN}


@settings(max_examples=15, deadline=None)
@given(drawn=machines(), data=st.data())
def test_an_unknown_failure_of_the_only_protection_leaves_its_hazard_open_or_alarmed(drawn, data):
    made = CoverSheet(drawn[0])
    each = data.draw(st.sampled_from(causes_of(made.circuit)))
    for row in made.rows(each):
        for latent in made.latent_rows(row):
            assert latent.status in (Status.OPEN, Status.TOLD) and latent.hazard == row.hazard
            assert row.status is not Status.TOLD or latent.status is Status.OPEN or row.told_by != latent.told_by
