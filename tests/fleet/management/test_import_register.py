from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from fleet.models import Machine
from tests.factories import make_area, make_model, make_person, make_site
from tests.fleet.imports.odd_files import FOLDER

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
    assert Machine.objects.get().status_changes.get().by == person


def test_a_dry_run_tells_and_changes_nothing(file):
    assert "1 machines would be entered" in run(str(file), "--dry-run")
    assert not Machine.objects.exists()


def test_a_second_import_tells_that_nothing_changed(file):
    run(str(file))
    assert "0 machines are entered, 0 corrected, 1 unchanged" in run(str(file))


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


HOSPITAL = "Tag No;Type;Hospital;Location;Commissioned;Price\nA-1;three;north;Theatre 1;03/04/1985;9\n"


def test_what_could_be_read_two_ways_is_asked_for_by_option(file):
    file.write_text(HOSPITAL, encoding="utf-8")
    errors = StringIO()
    with pytest.raises(CommandError, match="--date-order"):
        call_command("import_register", str(file), stdout=StringIO(), stderr=errors)
    assert "“Price”" in errors.getvalue() and "day first or month first" in errors.getvalue()
    assert not Machine.objects.exists()


@pytest.mark.parametrize("unknown", [("--mapping", "Price="), ("--leave-out-unknown",)])
def test_options_say_which_column_is_which_and_how_dates_run(file, unknown):
    file.write_bytes(HOSPITAL.encode("utf-16-le"))
    options = ("--date-order", "month", "--encoding", "utf-16-le", "--delimiter", "semicolon", "--header-row", "1")
    assert "1 machines are entered" in run(str(file), *options, *unknown)
    assert str(Machine.objects.get().in_use_from) == "1985-03-04"


def test_a_mapping_to_no_column_lists_the_columns(file):
    with pytest.raises(CommandError, match="asset_number"):
        run(str(file), "--mapping", "Price=money")


def test_a_sheet_of_a_workbook_is_chosen_by_name(file):
    workbook = FOLDER / "two_registers.xlsx"
    with pytest.raises(CommandError, match="--sheet"):
        run(str(workbook))
    run(str(workbook), "--sheet", "South")
    assert Machine.objects.get().asset_number == "A-2"


def test_every_kind_of_file_can_be_imported(file):
    run(str(FOLDER / "plain.csv"))
    assert "3 instruments are entered" in run(str(FOLDER / "instruments.csv"), "--kind", "instruments")
