from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from fleet.models import Machine
from tests.factories import make_area, make_model, make_person, make_site

TEXT = "asset_number,model,site,area,built_year,in_use_from\nA-1,three,north,Theatre 1,1984,1985-03-01\n"


@pytest.fixture
def file(db, tmp_path):
    make_model(code="three", features={"ratio-protection": "not fitted"})
    make_area(make_site(code="north"), name="Theatre 1")
    path = tmp_path / "list.csv"
    path.write_text(TEXT, encoding="utf-8")
    return path


def run(*arguments):
    out, err = StringIO(), StringIO()
    call_command("import_register", *arguments, stdout=out, stderr=err)
    return out.getvalue()


def test_a_file_is_imported_in_the_name_of_a_person(file):
    person = make_person("planner", username="ines")
    assert "1 machines are entered" in run(str(file), "--by", "ines")
    assert Machine.objects.get().duty_changes.get().by == person


def test_a_dry_run_tells_and_changes_nothing(file):
    assert "1 machines would be entered" in run(str(file), "--dry-run")
    assert not Machine.objects.exists()


def test_a_second_import_tells_that_nothing_changed(file):
    run(str(file))
    assert "0 machines are entered, 0 corrected, 1 stay as they are" in run(str(file))


def test_a_difference_is_told(file):
    run(str(file))
    file.write_text(TEXT.replace("1984", "1983"), encoding="utf-8")
    assert "A-1: built_year “1984” becomes “1983”" in run(str(file))


def test_a_file_with_a_problem_fails_and_tells_it(file):
    file.write_text(TEXT.replace("1984", "84"), encoding="utf-8")
    errors = StringIO()
    with pytest.raises(CommandError, match="1 problems, nothing imported"):
        call_command("import_register", str(file), stderr=errors)
    assert "row 2, column built_year: “84” is not a year. Accepted: four digits" in errors.getvalue()
    assert not Machine.objects.exists()


def test_a_file_that_is_not_there_or_a_person_nobody_knows_is_told(file):
    with pytest.raises(CommandError, match="cannot be read"):
        run("no-such-file.csv")
    with pytest.raises(CommandError, match="Nobody has the username"):
        run(str(file), "--by", "nobody")
    assert not Machine.objects.exists()
