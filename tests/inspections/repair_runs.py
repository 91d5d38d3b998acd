"""Repairs at the bench, for the test that every action leaves an entry of what it changed."""

from datetime import timedelta

import inspections.actions
from tests.factories import NOON, make_component
from tests.inspections.scenes import FAILING

LATER = NOON + timedelta(days=1)
NOW = {"at": LATER}


def repaired(act):
    """A step that failed, beside a component that can be replaced."""

    def run(_, scene):
        scene.complete(FAILING)
        make_component(scene.machine, kind="check-valve", label="Check valve", code="check-valve")
        yield
        act(scene)

    return run


def replaced_at_bench(scene, **fields):
    fields = {"by": scene.technician, "at": LATER, **fields}
    return inspections.actions.record_replacement(scene.step("flush"), "check-valve", serial="V-2", **fields)


def entered(act):
    """A component that was entered as replaced in an inspection in progress."""

    def run(_, scene):
        make_component(scene.machine, kind="check-valve", label="Check valve", code="check-valve")
        entry = replaced_at_bench(scene, at=NOON)
        yield
        act(entry, scene)

    return run


def signed_with_replacement(_, scene):
    make_component(scene.machine, kind="check-valve", label="Check valve", code="check-valve")
    replaced_at_bench(scene, at=NOON)
    scene.complete()
    yield
    scene.sign()


def undone_as_left(_, scene):
    scene.complete(FAILING)
    left = inspections.actions.begin_as_left(scene.step(), work_done="Cleaned", by=scene.technician, at=NOON)
    yield
    inspections.actions.undo_as_left(left, by=scene.technician, at=LATER)


RUNS_OF_REPAIRS = {
    "record_replacement": repaired(replaced_at_bench),
    "change_replacement": entered(
        lambda entry, s: inspections.actions.change_replacement(entry, serial="V-3", by=s.other, **NOW)
    ),
    "withdraw_replacement": entered(
        lambda entry, s: inspections.actions.withdraw_replacement(entry, by=s.other, **NOW)
    ),
    "sign_inspection with a replaced component": signed_with_replacement,
}
