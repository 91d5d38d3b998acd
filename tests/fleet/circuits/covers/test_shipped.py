"""What comes with the program is what the program computes, and is used in its place."""

import lzma
from functools import partial

import pytest
from django.core.management import CommandError, call_command

from fleet.actions import copy_circuits
from fleet.circuit.digest import circuit_digest
from fleet.circuit.kit import MACHINE_KINDS, start_of
from fleet.circuits.covers import shipped
from fleet.circuits.covers.computing import compute
from fleet.circuits.covers.program_digest import rules
from fleet.circuits.covers.rows_in_words import read_table
from fleet.circuits.covers.shipped import circuit_of_shipped, computed_of, read_shipped, shipped_cover
from fleet.circuits.covers.shipping import circuits_of_the_kit, outdated, shipped_files, write_shipped
from fleet.models import MachineCover
from fleet.work_progress import tell_nobody
from tests.factories import NOON, make_machine, make_model
from tests.fleet.circuit.demo_machines import NAMES, machine
from tests.fleet.circuit.table_differences import differences
from tests.fleet.circuits.covers.conftest import remembered

FILES = shipped_files()


@pytest.fixture
def uncomputed(monkeypatch):
    """Fails where anything is computed."""

    def computing(circuit, tell=None):
        raise AssertionError(f"{circuit} was computed")

    monkeypatch.setattr("fleet.circuits.covers.storing.compute", computing)


def test_none_is_outdated():
    assert FILES and outdated() == [], "Run `manage.py shipped_covers` and commit what it writes."


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name[:8])
def test_what_a_file_says_is_what_its_circuit_gives(path):
    said = read_shipped(path)
    circuit = circuit_of_shipped(said)
    assert path.name == f"{circuit_digest(circuit)}.json.xz"
    told, found = computed_of(said, 0.0), compute(circuit)
    assert list(differences(told.table, found.table)) == []
    assert (told.shown, told.closing) == (found.shown, found.closing)


def test_a_figure_that_differs_by_a_millionth_is_found():
    said, other = read_shipped(FILES[0]), read_shipped(FILES[0])
    row = next(row for row in other["table"]["rows"] if row["figures"] and row["figures"]["oxygen"])
    row["figures"]["oxygen"] *= 1 + 1e-6
    assert list(differences(computed_of(said, 0.0).table, computed_of(other, 0.0).table))


def test_every_kind_of_the_kit_and_every_model_of_the_demonstration_has_one():
    known = {path.name.split(".")[0] for path in FILES}
    assert {circuit_digest(circuit) for circuit in circuits_of_the_kit()} <= known
    titles = {read_shipped(path)["title"] for path in FILES}
    assert {machine(name).title for name in NAMES} <= titles


@pytest.mark.parametrize("code", MACHINE_KINDS)
@pytest.mark.parametrize("is_copied", [False, True])
def test_a_machine_of_a_model_that_starts_from_the_kit_waits_for_nothing(code, is_copied, covers, uncomputed, db):
    start = start_of(MACHINE_KINDS[code], title="Kit")
    new = make_machine(model=make_model(circuit=start.circuit, features=dict(start.features)))
    if is_copied:
        copy_circuits([new], by=None, at=NOON)
    assert covers().result == "1 machine checked, 0 circuits computed; the others were up to date."
    kept = MachineCover.objects.get(machine=new)
    table = read_table(kept.cover)
    assert (kept.cover.title, table.circuit) == (str(new.model), str(new.model))
    assert kept.cover.rules == rules() and table.causes == kept.cover.causes > 100


def test_one_of_another_program_is_not_used_and_the_circuit_is_computed(monkeypatch, covers, db):
    make_machine(model=make_model(circuit=start_of(MACHINE_KINDS["three-gas"], title="Kit").circuit))
    digest = FILES[0].name.split(".")[0]
    assert shipped_cover(digest) is not None
    monkeypatch.setattr(shipped, "rules", lambda: "f" * 64)
    assert shipped_cover(digest) is None
    assert "1 circuit computed" in covers().result


def test_a_circuit_that_does_not_come_with_the_program_has_none():
    assert shipped_cover("0" * 64) is None


def test_a_file_is_text_with_a_row_to_a_line(tmp_path):
    said = read_shipped(FILES[0])
    circuit = circuit_of_shipped(said)
    path = write_shipped(circuit, computed_of(said, 0.0), tmp_path)
    assert path.name == FILES[0].name and read_shipped(path) == said
    lines = lzma.decompress(path.read_bytes()).decode().splitlines()
    assert sum(line.startswith('{"hazard"') for line in lines) == len(said["table"]["rows"])


def test_the_command_names_what_is_outdated(monkeypatch, capsys):
    call_command("shipped_covers", "--check")
    assert capsys.readouterr().out == f"{len(FILES)} shipped cover tables are those of this program.\n"
    monkeypatch.setattr("fleet.circuits.covers.shipping.rules", lambda: "f" * 64)
    with pytest.raises(CommandError, match=FILES[0].name) as refused:
        call_command("shipped_covers", "--check")
    assert refused.value.returncode == 1


def test_the_command_writes_the_circuits_of_the_kit_and_of_machines_and_removes_others(
    tmp_path, machines, monkeypatch, capsys
):
    monkeypatch.setattr("fleet.management.commands.shipped_covers.circuits_of_the_kit", lambda: [])
    monkeypatch.setattr("fleet.management.commands.shipped_covers.compute", partial(remembered, tell=tell_nobody))
    (tmp_path / FILES[0].name).write_bytes(FILES[0].read_bytes())
    call_command("shipped_covers", "--machines", folder=tmp_path)
    (path,) = shipped_files(tmp_path)
    assert path.name != FILES[0].name and read_shipped(path)["title"] == str(machines[0].model)
    first = path.read_bytes()
    path.write_bytes(lzma.compress(lzma.decompress(first).replace(rules().encode(), b"f" * 64)))
    assert outdated(tmp_path) == [path]
    call_command("shipped_covers", folder=tmp_path)
    assert path.read_bytes() == first and "1 of 1: Test works" in capsys.readouterr().out
