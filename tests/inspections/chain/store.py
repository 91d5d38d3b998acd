"""A small store with every kind of entry: two sites, a countersigned and twice amended record, others plain."""

from dataclasses import dataclass
from datetime import timedelta

from fleet.acting.scope import settle
from inspections.actions import amend_inspection, countersign_inspection, sign_inspection
from inspections.chain.verification import verify_store
from tests.factories import NOON
from tests.inspections.scenes import FAILING, PASSING, SHORT, make_scene


@dataclass
class Store:
    """`records` are the signed inspections in the order of their signatures: two at the first site, one elsewhere."""

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
    second = sign(scene, at, FAILING)
    settle()
    return Store(scene, elsewhere, [first, second, third])


def sign(scene, at, rows):
    scene.sweep(rows, at=at)
    scene.enter("set_flow", "4.1", unit="L/min", instrument=scene.flowmeter, at=at)
    scene.enter("seen", "yes", code="alarm", at=at)
    scene.leave_untested("flush", "No flowmeter of that range today.", at=at)
    return sign_inspection(scene.inspection, by=scene.technician, at=at + timedelta(hours=1))


def troubles(**kwargs):
    return list(verify_store(**kwargs))
