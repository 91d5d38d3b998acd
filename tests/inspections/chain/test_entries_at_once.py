"""Signatures at the same moment."""

import pytest

from fleet.acting.scope import settle
from inspections.actions import sign_inspection
from inspections.models import ChainHead, Inspection
from tests.factories import NOON, make_machine
from tests.inspections.actions.test_signing import in_threads
from tests.inspections.chain.store import troubles
from tests.inspections.chain.test_entries import numbers
from tests.inspections.scenes import make_scene


@pytest.mark.django_db(transaction=True)
def test_signatures_at_the_same_moment_leave_no_gap(transactional_db, tmp_path):
    scene = make_scene(tmp_path)
    waiting = []
    for _ in range(4):
        scene.machine = make_machine(area=scene.machine.area)
        scene.again(at=NOON)
        scene.complete()
        waiting.append(scene.inspection.pk)
    calls = [
        lambda pk=pk: sign_inspection(Inspection.objects.get(pk=pk), by=scene.technician, at=NOON) for pk in waiting
    ]
    settle()  # what the factories wrote, before others write too
    results = in_threads(*calls)
    assert {type(result).__name__ for result in results} == {"Inspection"}
    assert [sequence for sequence, _ in numbers(scene.machine.site)] == [1, 2, 3, 4]
    assert ChainHead.objects.get().sequence == 4 and troubles() == []
