"""A step as it reads on a machine: nothing about equipment and gases that the machine is known to lack."""

import re
from functools import cache

import pytest

from fleet.catalogue import COMPONENT_KINDS
from fleet.models import State
from inspections.actions import open_inspection
from inspections.at_bench.procedure_files import read_procedures
from inspections.at_bench.slots import fixed_choices
from inspections.at_bench.step_content import features_of
from inspections.at_bench.step_content import test_of as bench_test_of
from inspections.at_bench.step_rows import SHOWN_BY, lacked_by, machine_on_day, rows_of
from inspections.models import InspectionStep, SignedRecord
from inspections.records.signed_record import ShownRecord
from tests.factories import (
    NOON,
    TODAY,
    load_all_procedures,
    make_component,
    make_inspection,
    make_machine,
    make_model,
    make_person,
)
from tests.inspections.scenes import make_scene

WITHOUT = {
    "ventilator": (
        {"lacks": ["ventilator"]},
        r"ventilator|bellows|piston|turbine|peep|end-expiratory|tidal|the selector\b|and selector|between breaths",
        ("ventilator",),
    ),
    "vaporizer": (
        {"vaporizer_positions": 0},
        r"vapori|\bdial turned|vaporizer dial|agent\b",
        ("vaporizer", "measured-flow-vaporizer"),
    ),
    "scavenging": ({"lacks": ["scavenging"]}, r"the scavenging|a scavenging|agss", ("scavenging-interface",)),
    "nitrous oxide": ({"gases": ["oxygen", "air"]}, r"nitrous", ()),
    "gases but oxygen": (
        {"gases": ["oxygen"]},
        r"nitrous|oxygen and air|each gas on|each float.*nitrous|every other gas",
        (),
    ),
    "pipeline": ({"lacks": ["pipeline"]}, r"pipeline|wall outlet", ("pipeline-inlet",)),
    "yokes": ({"lacks": ["yokes"]}, r"yoke|cylinder", ("cylinder-yoke", "yoke-block", "pressure-regulator")),
    "mains power": ({"lacks": ["mains-power"]}, r"mains|battery|power cord", ("battery",)),
}
"""By what a machine lacks: the fields of its model, the words, and the kinds of component that go with it."""
OF_OTHER_THINGS = {
    ("ventilator", "monitor-readings"),  # the title of a standard for displays: critical care ventilators
    ("vaporizer", "capnograph"),  # what a monitor can show is of the monitor, and its certified gas
    ("nitrous oxide", "capnograph"),
    ("gases but oxygen", "capnograph"),
    ("yokes", "capnograph"),  # the cylinder of the certified gas
    ("yokes", "backup-ventilation"),  # the cylinder beside the self-inflating bag
    ("pipeline", "suction"),  # the vacuum pipeline that the suction draws from
}
"""What is lacking and step: where the words are of something else than the machine's equipment."""
OF_A_ROOM = {"exposure"}  # the air of a room with other machines in it


def steps_on(machine):
    """Every step of every shipped procedure that applies on the machine."""
    inspection, there = make_inspection(machine), machine_on_day(machine, TODAY)
    for content in shipped_steps():
        yield from (row for row in rows_of(inspection, content, there) if row.applies)


@cache
def shipped_steps():
    """Each step that the shipped procedures have, once."""
    steps = [step for procedure in read_procedures() for step in procedure["step"]]
    return [step for number, step in enumerate(steps) if step not in steps[:number]]


def words_of(step):
    """Every text of a step that its page, paper or record shows, one by one; not the choices that are made already."""
    test, fixed = bench_test_of(step), fixed_choices(step)
    yield from (step.content.get(key, "") for key in ("title", "instruction", "item", "caution"))
    yield step.content.get("purpose") or test.purpose
    yield from test.cautions
    for spec in (*test.all_readings(), *test.tables):
        yield from (spec.label, spec.help)
    yield from (spec.label for spec in test.results)
    for choice in test.choices:
        if choice.key not in fixed:
            yield from (choice.label, *(label for _, label in choice.options))


@pytest.mark.parametrize("lacking", WITHOUT)
def test_no_shipped_step_speaks_of_what_the_machine_lacks(db, lacking):
    fields, words, kinds = WITHOUT[lacking]
    machine = make_machine(model=make_model(**fields))
    for kind in COMPONENT_KINDS:
        if kind not in kinds:
            make_component(machine, kind=kind)
    said = [
        f"{step.code}: {text}"
        for step in steps_on(machine)
        if step.test_code not in OF_A_ROOM and (lacking, step.code) not in OF_OTHER_THINGS
        for text in words_of(step)
        if re.search(words, text, re.IGNORECASE)
    ]
    assert not said, "\n".join(said)


def test_on_a_machine_with_everything_nothing_is_left_out(db):
    machine = make_machine()
    assert not lacked_by(machine_on_day(machine, TODAY)) & {"pipeline", "yokes", "ventilator", "nitrous-oxide", "air"}
    reserve = next(step for step in steps_on(machine) if step.code == "reserve-oxygen")
    assert reserve.content["item"].startswith("With the oxygen pipeline disconnected, each oxygen cylinder")
    assert "lacks" not in reserve.content


def test_what_a_fitted_safety_feature_needs_counts_as_there(db):
    model = make_model(lacks=["ventilator"], features={"low-pressure-alarm": State.FITTED})
    step = next(
        step for step in steps_on(make_machine(model=model)) if "low-pressure-alarm" in features_of(step.content)
    )
    assert "drive" in {choice.key for choice in bench_test_of(step).choices}


@pytest.mark.parametrize(("kind", "code"), SHOWN_BY.items())
def test_what_a_recorded_component_shows_to_be_there_is_asked_for_whatever_the_model_says(db, kind, code):
    assert kind in COMPONENT_KINDS
    lacks = [] if code == "vaporizer" else [code]
    machine = make_machine(model=make_model(lacks=lacks, vaporizer_positions=0, gases=["oxygen"]))
    assert {code, "air", "second-gas"} <= lacked_by(machine_on_day(machine, TODAY))
    make_component(machine, kind=kind, gas="air")
    assert not lacked_by(machine_on_day(machine, TODAY)) & {code, "air", "second-gas"}


def test_what_was_lacking_stays_with_the_steps_of_an_opened_inspection(db):
    model = make_model(lacks=["ventilator"])
    procedures = {one.procedure.code: one.procedure for one in load_all_procedures()}
    inspection = make_inspection(make_machine(model=model), procedures["yearly"])
    open_inspection(inspection, by=make_person("technician"), at=NOON)
    model.lacks = []
    model.save()
    step = InspectionStep.objects.get(inspection=inspection, code="two-bag")
    assert step.content["lacks"] == ["ventilator"]
    assert "volume_kept" not in {one.key for one in bench_test_of(step).readings}


BAGS = """
code = "yearly"
title = "Bags"
interval_months = 12
[[step]]
code = "bags"
title = "Two-bag test"
test = "two-bag"
instruction = "Move gas by hand{ventilator|, then by the ventilator}."
"""


def test_the_record_says_what_was_left_out_and_why(db, tmp_path):
    scene = make_scene(tmp_path, text=BAGS, model=make_model(lacks=["ventilator"]))
    scene.enter("fresh_gas", "5", unit="L/min", code="bags")
    for key in ("flows_both_ways", "valves_move", "apl_releases"):
        scene.enter(key, "yes", code="bags")
    scene.sign()
    record = ShownRecord(SignedRecord.objects.get(inspection=scene.inspection))
    (step,) = record.measured
    assert step.decision == "pass"
    assert step.content["instruction"] == "Move gas by hand."
    assert step.content["left_out"] == "Left out, as the machine's record says: it has no ventilator."
    assert "volume_kept" not in step.content["labels"]
