"""The cover table on the command line: of a machine, and of a file without any database."""

import json
from datetime import date
from io import BytesIO, StringIO, TextIOWrapper
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from fleet.actions.circuit import take_out_component
from fleet.catalogue import HAZARDS
from fleet.circuit.network import MOST_COMPONENTS
from fleet.circuit.solution import NoSolution
from tests.factories import NOON, make_machine, make_model

FOLDER = Path(__file__).parents[1] / "circuit"
FILE = FOLDER / "two_gases.toml"
LOST = "Oxygen pipeline supply fails"


def run(*arguments):
    out = StringIO()
    call_command("cover_table", *arguments, stdout=out)
    return out.getvalue()


@pytest.fixture
def machine(db):
    text = FILE.read_text(encoding="utf-8")
    return make_machine(asset_number="A-7", model=make_model(code="two", circuit=text), in_use_from=date(2020, 1, 1))


def test_a_file_is_computed_without_a_database():  # no database mark here: any query fails the test
    text = run("--file", str(FILE))
    title, size = text.splitlines()[:2]
    assert title == "Cover table of Two gases, one cut-off valve, as in two_gases.toml"
    assert size == "7 components, 7 connections"
    assert "Hypoxic mixture: " in text
    assert "Not judged by a gas circuit: electric shock, fire." in text
    assert "replaces neither the manufacturer's instructions" in " ".join(text.split())


def test_oxygen_shut_with_nitrous_oxide_on_is_open_where_nothing_stops_it():  # common practice, no source
    rows = json.loads(run("--file", str(FILE), "--json"))["rows"]
    shut = [row for row in rows if row["hazard"] == "hypoxic-mixture" and row["cause"]["group"] == "use"]
    assert shut and {row["status"] for row in shut} == {"open"}
    assert min(row["figures"]["oxygen"] for row in shut) < 0.21


def test_the_data_count_what_they_hold_and_name_hazards_of_the_catalogue():
    data = json.loads(run("--file", str(FILE), "--json"))
    counts = {status: sum(row["status"] == status for row in data["rows"]) for status in ("open", "told", "stopped")}
    assert data["counts"] == counts
    assert {row["hazard"] for row in data["rows"]} <= set(HAZARDS)


def test_a_cut_off_valve_stops_nitrous_oxide_alone_when_oxygen_pressure_is_lost():  # common practice, no source
    rows = json.loads(run("--file", str(FILE), "--json"))["rows"]
    lost = [row for row in rows if row["hazard"] == "hypoxic-mixture" and row["cause"]["title"] == LOST]
    assert [(row["status"], row["stopped_by"]) for row in lost] == [("stopped", ["o2-failure-protection"])]
    assert "stopped by oxygen supply-failure protection" in run("--file", str(FILE))


def test_only_what_is_open_is_told_when_asked_for():
    assert "  STOPPED" in run("--file", str(FILE))
    data = json.loads(run("--file", str(FILE), "--json", "--open-only"))
    assert {row["status"] for row in data["rows"]} == {"open"}
    lines = run("--file", str(FILE), "--open-only").splitlines()
    assert not [line for line in lines if line.startswith(("  STOPPED", "  ALARMED"))]
    assert len([line for line in lines if line.startswith("  OPEN")]) == len(data["rows"])


def test_an_explanation_gives_steps_and_figures():
    plain, told = run("--file", str(FILE)), run("--file", str(FILE), "--explain")
    assert "Here: oxygen " in told and "Without any safety feature: " in told
    assert "Here: " not in plain


def test_two_causes_together_are_computed_on_request():
    data = json.loads(run("--file", str(FILE), "--pairs", "occasional", "--json"))
    assert data["rows"] and all(len(row["cause"]["parts_of"]) == 2 for row in data["rows"])


def test_a_file_is_read_from_standard_input(monkeypatch):
    monkeypatch.setattr("sys.stdin", TextIOWrapper(BytesIO(FILE.read_bytes())))
    assert "as in standard input" in run("--file", "-")


def test_a_machine_has_the_table_of_its_model_until_it_is_altered(machine):
    assert run("A-7").startswith("Cover table of ")
    assert "as its model was built\n7 components, 7 connections" in run("A-7")
    of_machine, of_file = (json.loads(run(*words, "--json")) for words in (["A-7"], ["--file", str(FILE)]))
    states = [{(r["cause"]["code"], r["hazard"]): r["status"] for r in data["rows"]} for data in (of_machine, of_file)]
    assert states[0] == states[1]


def test_the_circuit_of_a_past_day_is_asked_for_by_its_date(machine):
    day = date(2024, 2, 29)
    assert "as its model was built, on 2024-02-29\n" in run("A-7", "--on", "2024-02-29")
    take_out_component(machine, "cut-off-valve", removed_on=day, bridge=True, by=None, at=NOON)
    before, after = run("A-7", "--on", "2024-02-28"), run("A-7", "--on", "2024-02-29")
    assert "7 components, 7 connections" in before and "  STOPPED" in before
    assert "6 components, " in after and "  STOPPED" not in after


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--file", "no_such_file.toml"], "no_such_file.toml cannot be read: "),
        (
            ["--file", str(FOLDER / "odd_files" / "misspelt_keys.toml")],
            r"misspelt_keys.toml cannot be computed, 3 p",
        ),
        (["--file", str(FOLDER / "odd_files" / "misspelt_keys.toml")], r"part 1 \(outlet\), line 3: label is missing"),
        (["--file", str(FILE), "--on", "2024-01-01"], "a file has no days"),
        (["--file", str(FILE), "--pairs", "daily"], "invalid choice"),
        ([], "one of the arguments ASSET_NUMBER --file is required"),
    ],
)
def test_wrong_use_is_refused_with_what_is_accepted(arguments, said):
    with pytest.raises(CommandError, match=said):
        run(*arguments)


def test_components_that_make_no_circuit_are_refused_with_their_problems(tmp_path):
    loose = tmp_path / "loose.toml"
    loose.write_text(FILE.read_text(encoding="utf-8").replace('to = "outlet.in"', 'to = "flow-bank.in"'), "utf-8")
    with pytest.raises(CommandError, match="loose.toml cannot be computed"):
        run("--file", str(loose))


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["B-1"], "There is no machine 'B-1' in the register"),
        (["A-7", "--on", "31.12.2024"], "--on: “31.12.2024” is not a valid date"),
    ],
)
def test_a_machine_or_a_day_that_is_none_is_refused(machine, arguments, said):
    with pytest.raises(CommandError, match=said):
        run(*arguments)


def test_a_circuit_without_a_steady_flow_is_refused_with_the_reason(monkeypatch):
    def none(circuit, causes=None):
        raise NoSolution("No steady flow was found: at outlet.in.")

    monkeypatch.setattr("fleet.management.commands.cover_table.cover_table", none)
    with pytest.raises(CommandError, match="one cut-off valve cannot be computed even in ordinary use. No steady flow"):
        run("--file", str(FILE))


def test_a_machine_without_any_circuit_is_refused_with_what_to_do(db):
    make_machine(asset_number="A-8")
    with pytest.raises(
        CommandError, match="no circuit is recorded for the machine or its model.*Record the model's circuit"
    ):
        run("A-8")


def joined_pipes(count):
    """A circuit file of so many pipes, each joined to the next."""
    components = [f'[[part]]\ncode = "p{n}"\nkind = "pipe"\nlabel = "Pipe {n}"\n' for n in range(count)]
    connections = [f'[[joint]]\nfrom = "p{n}.out"\nto = "p{n + 1}.in"\n' for n in range(count - 1)]
    return "\n".join(['title = "Long"', *components, *connections])


DEEP = ".".join(["title", *"a" * 2000])


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (joined_pipes(400), f"has 400 ..part..; accepted: {MOST_COMPONENTS} at most"),
        (f"{DEEP} = 1", "nested more than 8 levels deep"),
        (f"{'a.' * 60_000}a = 1", "is longer than|characters; accepted|a line of more than"),
        ("part = " + "[" * 4000, "nested too deeply"),
        ("\n".join(f"{letter} = {'[' * 9}{']' * 9}" for letter in "ab"), "nested more than 8 levels deep"),
        ("title = " + "9" * 5000, "a line of more than|is not valid TOML"),
        ("ambient_pressure = [1" + "0" * 400 + ', "kPa"]', "ambient_pressure is a number of 401 digits"),
        ("ambient_pressure = [1013, 'psi']", "has no ..component.."),
    ],
    ids=range(8),
)
def test_a_file_that_would_take_too_long_or_cannot_be_is_refused_at_once(text, words, tmp_path):
    path = tmp_path / "odd.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(CommandError, match=words):
        run("--file", str(path))


@pytest.mark.parametrize("name", ["/dev/zero", "/", "nul\0.toml", "nowhere.toml"])
def test_a_file_that_cannot_be_read_or_never_ends_is_refused(name):
    with pytest.raises(CommandError, match="read"):
        run("--file", name)


def test_more_pairs_than_can_be_computed_are_refused_with_their_number(monkeypatch):
    monkeypatch.setattr("fleet.management.commands.cover_table.MOST_CAUSES", 1)
    with pytest.raises(CommandError, match=r"pairs of causes that are each at least rare; accepted: 1 at most"):
        run("--file", str(FILE), "--pairs", "rare")
