"""The coverage of the shipped procedures on the command line."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from config.demo.machine_circuits import CIRCUITS, circuit_text
from inspections.at_bench.procedure_files import read_procedures
from tests.factories import make_machine, make_model


def run(*arguments):
    out = StringIO()
    call_command("procedure_coverage", *arguments, stdout=out)
    return out.getvalue()


def test_each_procedure_is_printed_for_each_circuit_without_a_database():  # no database mark: a query would fail it
    text = run("--share")
    assert text.count("single failures found (") == len(read_procedures()) * len(list(CIRCUITS.glob("*.toml")))


def test_a_procedure_is_printed_with_the_steps_that_find_each_failure():
    text = run("yearly")
    assert "    APL valve: APL valve: stuck shut; APL valve: stuck open\n" in text
    assert text.count("    Not found: ") == len(list(CIRCUITS.glob("*.toml")))
    assert "Half-yearly" not in text


def test_a_machine_of_the_register_is_printed_by_its_own_record(db):
    make_machine(asset_number="A-7", model=make_model(circuit=circuit_text("norrfell-3")))
    text = run("daily", "--machine", "A-7")
    assert text.splitlines()[1].startswith("  Machine A-7, ") and "single failures found" in text


@pytest.mark.parametrize(
    ("arguments", "told"),
    [(["hourly"], "No procedure 'hourly' is shipped. Accepted: .*yearly"), (["--machine", "A-8"], "no machine 'A-8'")],
)
def test_what_there_is_not_is_refused_with_what_there_is(db, arguments, told):
    with pytest.raises(CommandError, match=told):
        run(*arguments)
