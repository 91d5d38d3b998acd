"""A small store with every kind of entry: two sites, a countersigned and twice amended record, others plain."""

from dataclasses import dataclass
from datetime import timedelta

from fleet.acting.scope import settle
from inspections.actions import (
    add_photograph,
    amend_inspection,
    begin_as_left,
    countersign_inspection,
    record_replacement,
    remove_photograph,
    sign_inspection,
    write_remark,
)
from inspections.chain.verification import verify_store
from tests.factories import NOON, make_component
from tests.fleet.photographs.pictures import clean_picture
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


def make_store(directory, *, notes=True):
    """notes  whether each record has a remark and photographs, as those of older days have not"""
    scene = make_scene(directory)
    elsewhere = make_scene(directory, text=SHORT.replace('code = "yearly"', 'code = "elsewhere"'))
    first = sign(scene, NOON, PASSING, notes=notes)
    countersign_inspection(first, by=scene.other, at=NOON + timedelta(hours=2))
    amend_inspection(
        first, correction="Row 2 reads 34 psi.", reason="Misread", by=scene.other, at=NOON + timedelta(hours=3),
        step=first.steps.get(code="supply-failure"),
    )  # fmt: skip
    amend_inspection(first, correction="24 °C.", reason="Wrong room", by=scene.other, at=NOON + timedelta(hours=4))
    third = sign(elsewhere, NOON + timedelta(hours=5), PASSING, notes=notes)
    at = NOON + timedelta(days=1)
    scene.again(at=at)
    second = sign(scene, at, FAILING, notes=notes, repair=repair)
    settle()
    return Store(scene, elsewhere, [first, second, third])


def repair(scene, at):
    """Replace a component, and test the alarm again after it was adjusted."""
    make_component(scene.machine, kind="check-valve", label="Check valve", code="check-valve")
    by = {"by": scene.technician, "at": at}
    record_replacement(scene.step("flush"), "check-valve", serial="V-2", **by)
    left = begin_as_left(scene.step("alarm"), work_done="Reed cleaned.", **by)
    enter(left, "seen", as_read="yes", **by)


def sign(scene, at, rows, *, notes=True, repair=None):
    scene.sweep(rows, at=at)
    scene.enter("set_flow", "4.1", unit="L/min", instrument=scene.flowmeter, at=at)
    scene.enter("seen", "yes", code="alarm", at=at)
    scene.leave_untested("flush", "No flowmeter of that range today.", at=at)
    if notes:
        note(scene, at)
    if repair:
        repair(scene, at)
    at += timedelta(hours=1)
    return sign_inspection(scene.inspection, by=scene.technician, at=at, minutes=50 if notes else None)


def note(scene, at):
    """A remark and three photographs, of which one was removed."""
    step, who = scene.step(), {"by": scene.technician, "at": at}
    write_remark(step, "The valve sticks.", **who)
    add_photograph(step, clean_picture(), caption="Worn seat", **who)
    remove_photograph(add_photograph(step, clean_picture(80), **who), **who)
    add_photograph(step, clean_picture(64), **who)


def troubles(**kwargs):
    return list(verify_store(**kwargs))
