"""A small store with every kind of entry: two sites, a countersigned and twice amended record, others plain."""

from dataclasses import dataclass
from datetime import timedelta

from fleet.acting.scope import settle
from inspections.actions import (
    amend_inspection,
    begin_as_left,
    countersign_inspection,
    record_replacement,
    sign_inspection,
)
from inspections.chain.verification import verify_store
from tests.factories import NOON, make_component
from tests.inspections.scenes import FAILING, PASSING, SHORT, enter, make_scene


@dataclass
class Store:
    """`records` are the signed inspections in the order of their signatures: two at the first site, one elsewhere.

    In the second a component was replaced, and a step tested again as left.
    """

    scene: object
    elsewhere: object
    records: list

    @property
    def site(self):
        return self.scene.machine.site


def make_store(directory):
    scene = make_scene(directory)
    elsewhere = make_scene(directory, text=SHORT.replace('code = "yearly"', 'code = "elsewhere"'))
    first = sign(scene, NOON, PASSING)
    countersign_inspection(first, by=scene.other, at=NOON + timedelta(hours=2))
    amend_inspection(
        first, correction="Row 2 reads 34 psi.", reason="Misread", by=scene.other, at=NOON + timedelta(hours=3),
        step=first.steps.get(code="supply-failure"),
    )  # fmt: skip
    amend_inspection(first, correction="24 °C.", reason="Wrong room", by=scene.other, at=NOON + timedelta(hours=4))
    third = sign(elsewhere, NOON + timedelta(hours=5), PASSING)
    at = NOON + timedelta(days=1)
    scene.again(at=at)
    second = sign(scene, at, FAILING, repair=repair)
    settle()
    return Store(scene, elsewhere, [first, second, third])


def repair(scene, at):
    """Replace a component, and test the alarm again after it was adjusted."""
    make_component(scene.machine, kind="check-valve", label="Check valve", code="check-valve")
    by = {"by": scene.technician, "at": at}
    record_replacement(scene.step("flush"), "check-valve", serial="V-2", **by)
    left = begin_as_left(scene.step("alarm"), work_done="Reed cleaned.", **by)
    enter(left, "seen", as_read="yes", **by)


def sign(scene, at, rows, *, repair=None):
    scene.sweep(rows, at=at)
    scene.enter("set_flow", "4.1", unit="L/min", instrument=scene.flowmeter, at=at)
    scene.enter("seen", "yes", code="alarm", at=at)
    scene.leave_untested("flush", "No flowmeter of that range today.", at=at)
    if repair:
        repair(scene, at)
    return sign_inspection(scene.inspection, by=scene.technician, at=at + timedelta(hours=1))


def troubles(**kwargs):
    return list(verify_store(**kwargs))
