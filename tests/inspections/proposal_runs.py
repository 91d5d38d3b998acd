"""Each action on a proposal as a run for tests/test_changes.py: prepare, yield, act."""

from datetime import timedelta

import inspections.proposals
from fleet.actions import withdraw_machine
from inspections.models import Finding
from tests.factories import NOON
from tests.inspections.scenes import FAILING

LATER = NOON + timedelta(days=1)
NOW = {"at": LATER}


def proposal(*, settle):
    """A proposal to release a machine, made by whoever signed the retest."""

    def run(_, scene):
        scene.complete(FAILING)
        scene.sign(at=NOON)
        withdraw_machine(scene.machine, by=scene.technician, at=NOON, reason="Old")
        scene.again(at=NOON)
        scene.inspection.retests.set(Finding.objects.all())
        scene.complete()
        act = inspections.proposals.Releasing(scene.machine, scene.sign())
        if settle is None:
            yield
        made = inspections.proposals.decide(act, reason="Mended", by=scene.technician, at=LATER)
        if settle is not None:
            yield
            settle(made, scene)

    return run


RUNS_OF_PROPOSALS = {
    "decide": proposal(settle=None),
    "confirm_proposal": proposal(
        settle=lambda made, s: inspections.proposals.confirm_proposal(made, by=s.other, **NOW)
    ),
    "decline_proposal": proposal(
        settle=lambda made, s: inspections.proposals.decline_proposal(made, reason="No", by=s.other, **NOW)
    ),
    "take_back_proposal": proposal(
        settle=lambda made, s: inspections.proposals.take_back_proposal(made, by=s.technician, **NOW)
    ),
}
