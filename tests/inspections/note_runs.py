"""Each action on the remark and the photographs of a step as a run for tests/test_changes.py: prepare, yield, act."""

from datetime import timedelta

import inspections.actions as actions
from tests.factories import NOON
from tests.fleet.photographs.pictures import clean_picture

LATER = NOON + timedelta(days=1)


def write_remark(by, scene):
    yield
    actions.write_remark(scene.step(), "Sticks.", by=by, at=LATER)


def add_photograph(by, scene):
    yield
    actions.add_photograph(scene.step(), clean_picture(), by=by, at=LATER)


def caption_photograph(by, scene):
    photograph = actions.add_photograph(scene.step(), clean_picture(), by=by, at=NOON)
    yield
    actions.caption_photograph(photograph, "Hose", by=by, at=LATER)


def remove_photograph(by, scene):
    photograph = actions.add_photograph(scene.step(), clean_picture(), by=by, at=NOON)
    yield
    actions.remove_photograph(photograph, by=by, at=LATER)


NOTE_RUNS = {one.__name__: one for one in (write_remark, add_photograph, caption_photograph, remove_photograph)}
