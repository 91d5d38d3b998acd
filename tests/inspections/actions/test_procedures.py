"""Loading procedure files."""

from datetime import timedelta

import pytest

from inspections.actions import load_procedures
from inspections.errors import ProcedureError
from inspections.models import Procedure, ProcedureVersion
from tests.factories import NOON, load_all_procedures, make_procedure

TEXT = """
code = "short"
title = "Short check"
interval_months = 3
[[step]]
code = "one"
title = "Oxygen supply failure"
test = "supply-failure"
"""


def test_a_file_is_loaded_once_until_it_changes(db, tmp_path):
    procedure = make_procedure(TEXT, directory=tmp_path)
    assert load_procedures(tmp_path, at=NOON) == []
    changed = make_procedure(TEXT.replace("Short check", "Short look"), directory=tmp_path, at=NOON + timedelta(days=1))
    assert (changed.pk, changed.title) == (procedure.pk, "Short look")
    versions = ProcedureVersion.objects.order_by("number").values_list("number", "content__title")
    assert list(versions) == [(1, "Short check"), (2, "Short look")]


def test_a_version_holds_the_limits_of_its_tests_with_their_sources(db, tmp_path):
    version = make_procedure(TEXT, directory=tmp_path).current_version()
    limits = version.content["step"][0]["limits"]
    assert limits and all(limit["source"] and limit["basis"] for limit in limits)


def test_a_loaded_version_is_frozen(db, tmp_path):
    version = make_procedure(TEXT, directory=tmp_path).current_version()
    version.content = {}
    with pytest.raises(TypeError, match="cannot be changed"):
        version.save()


@pytest.mark.parametrize(
    "old, new, says",
    [
        ('test = "supply-failure"', 'test = "no-such-test"', "procedure.toml, step 1 .one.*no-such-test"),
        ('test = "supply-failure"', 'test = "supply-failure"\ncolour = "red"', "unknown key colour"),
        ('test = "supply-failure"', 'test = "supply-failure"\ngas = "argon"', "argon.*not in the catalogue"),
        ('title = "Short check"', "", "title is missing"),
        ('code = "short"', "code = ", "not TOML"),
    ],
)
def test_a_file_that_cannot_be_loaded_is_named_and_nothing_is_kept(db, tmp_path, old, new, says):
    (tmp_path / "a.toml").write_text(TEXT.replace("short", "first"), encoding="utf-8")
    with pytest.raises(ProcedureError, match=says):
        make_procedure(TEXT.replace(old, new), directory=tmp_path)
    assert not Procedure.objects.exists()


def test_a_folder_without_procedures_is_told(db, tmp_path):
    with pytest.raises(ProcedureError, match="no procedure file"):
        load_procedures(tmp_path, at=NOON)


def test_the_shipped_procedures_load(db):
    created = load_all_procedures()
    assert {version.procedure.code for version in created} >= {"yearly", "half-yearly", "return-to-service"}
    assert load_all_procedures() == []
