"""The demonstration begins with shorter procedures, and takes the shipped ones later."""

from datetime import timedelta

import pytest

from config.demo.earlier_procedures import (
    FIRST_PROCEDURES,
    FIRST_STEPS,
    OBSERVED,
    earlier_text,
    load_earlier_procedures,
)
from inspections.actions import load_procedures
from inspections.at_bench.procedure_files import DIRECTORY, read_procedure, read_shared_steps
from inspections.models import Procedure
from tests.factories import NOON

SHARED = read_shared_steps()


def versions(code):
    return [version.content for version in Procedure.objects.get(code=code).versions.order_by("number")]


def test_every_first_step_is_a_shared_one_and_what_was_observed_is_measured_now():
    assert set(SHARED) >= FIRST_STEPS >= set(OBSERVED)
    assert all(SHARED[code]["test"] != "observation" for code in OBSERVED)


@pytest.mark.parametrize("code", FIRST_PROCEDURES)
def test_a_first_version_has_the_first_steps_in_their_order_and_the_rest_of_the_file(code):
    text = (DIRECTORY / f"{code}.toml").read_text(encoding="utf-8")
    shipped, earlier = (read_procedure(one, name=code, shared=SHARED) for one in (text, earlier_text(text)))
    kept = [step["code"] for step in shipped["step"] if step["code"] in FIRST_STEPS]
    assert [step["code"] for step in earlier["step"]] == kept
    assert {key: earlier[key] for key in earlier if key != "step"} == {
        key: shipped[key] for key in shipped if key != "step"
    }
    assert {step["test"] for step in earlier["step"] if step["code"] in OBSERVED} <= {"observation"}


def test_the_shipped_files_become_the_second_version(db):
    load_earlier_procedures(at=NOON)
    assert set(Procedure.objects.values_list("code", flat=True)) == set(FIRST_PROCEDURES)
    load_procedures(DIRECTORY, at=NOON + timedelta(days=700))
    earlier, shipped = versions("yearly")
    assert len(earlier["step"]) < len(shipped["step"])
    assert len(versions("daily")) == len(versions("weekly")) == 1
    assert load_procedures(DIRECTORY, at=NOON + timedelta(days=701)) == []
