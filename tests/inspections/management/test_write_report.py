"""The command that writes papers to files."""

import pytest
from django.core.management import CommandError, call_command

from tests.factories import make_machine


def write(*args):
    call_command("write_report", *map(str, args))


@pytest.mark.parametrize("name, start", [("c.pdf", b"%PDF"), ("c.csv", b"\xef\xbb\xbf"), ("c.xlsx", b"PK")])
def test_a_cover_report_is_written_in_the_format_of_the_file_name(db, tmp_path, capsys, name, start):
    make_machine()
    write("cover", "--out", tmp_path / name, "--on", "2020-01-01")
    assert (tmp_path / name).read_bytes().startswith(start)
    assert name in capsys.readouterr().out


def test_review_label_and_record_are_written(scene, tmp_path):
    scene.complete()
    inspection = scene.sign()
    write("review", "--out", tmp_path / "review.pdf")
    write("label", "--pk", scene.machine.pk, "--out", tmp_path / "label.pdf")
    write("record", "--pk", inspection.pk, "--out", tmp_path / "record.pdf")
    assert all((tmp_path / f"{kind}.pdf").read_bytes().startswith(b"%PDF") for kind in ("review", "label", "record"))


@pytest.mark.parametrize(
    "args, message",
    [
        (["record"], "A record needs --pk: the number of the inspection"),
        (["record", "--pk", 99], "There is no inspection 99"),
        (["label", "--pk", 99], "There is no machine 99"),
        (["cover", "--on", "2099-01-01"], "is in the future"),
    ],
)
def test_what_cannot_be_written_says_why_and_leaves_no_file(db, tmp_path, args, message):
    with pytest.raises(CommandError, match=message):
        write(*args, "--out", tmp_path / "out.pdf")
    assert not (tmp_path / "out.pdf").exists()


def test_an_unknown_format_and_a_missing_folder_are_refused(db, tmp_path):
    with pytest.raises(CommandError, match="one of: csv, xlsx, pdf"):
        write("cover", "--out", tmp_path / "cover.doc")
    with pytest.raises(CommandError, match="cannot be written"):
        write("cover", "--out", tmp_path / "nowhere" / "cover.pdf")


def test_an_unsigned_inspection_has_no_record_to_write(scene, tmp_path):
    with pytest.raises(CommandError, match="Sign it first"):
        write("record", "--pk", scene.inspection.pk, "--out", tmp_path / "record.pdf")
