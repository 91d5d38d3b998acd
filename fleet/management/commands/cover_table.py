"""Print the cover table of a machine, or of a circuit file without the database."""

import json
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from fleet.circuit.causes import causes_of, pairs_of
from fleet.circuit.cover import cover_table
from fleet.circuit.cover_text import table_data, table_text
from fleet.circuit.files import CircuitFileError, read_circuit
from fleet.circuit.network import check_circuit
from fleet.circuit.solution import NoSolution
from fleet.circuit.state import Likelihood
from fleet.circuits.measured_circuit import circuit_as_measured
from fleet.days import read_day
from fleet.management.command_input import read_text
from fleet.models import Machine

MOST_BYTES = 400_000  # a circuit of forty components has about 10,000
MOST_CAUSES = 50_000  # pairs; 64 components have 20,000 that are at least occasional, which take about six minutes


class Command(BaseCommand):
    help = (
        "Print the cover table of a machine's gas circuit: every hazard, its causes, and for each what stops it, what "
        "alarms, or OPEN. With --file a circuit file is read and no database is needed. Exit status: 0 computed, "
        "whatever is open; 1 the machine or the file cannot be computed; 2 wrong use."
    )
    requires_system_checks = []
    requires_migrations_checks = False

    def add_arguments(self, parser):
        which = parser.add_mutually_exclusive_group(required=True)
        which.add_argument("machine", nargs="?", metavar="ASSET_NUMBER", help="a machine of the register")
        which.add_argument("--file", metavar="CIRCUIT.toml", help="a circuit file; - is standard input")
        parser.add_argument("--on", metavar="DATE", help="the circuit of the machine on that day, as 2026-03-31")
        parser.add_argument(
            "--pairs", choices=tuple(Likelihood), metavar="CLASS",
            help=f"every two causes together, each at least {', '.join(Likelihood)}, instead of every single one",
        )  # fmt: skip
        parser.add_argument("--open-only", action="store_true", help="leave out rows that are stopped or alarmed")
        parser.add_argument("--explain", action="store_true", help="explain each row step by step")
        parser.add_argument("--json", action="store_true", help="print JSON, in SI units")

    def handle(self, *, machine, file, on, pairs, **options):
        if file and on:
            raise CommandError("--on asks for the circuit of a machine on a day; a file has no days. Leave it out.")
        circuit, basis = _of_file(file) if file else _of_machine(machine, _day(on))
        table = _table(circuit, Likelihood(pairs) if pairs else None)
        if options["json"]:
            data = {"title": circuit.title, "basis": basis, **table_data(table, open_only=options["open_only"])}
            self.stdout.write(json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False))
            return
        self.stdout.write(f"Cover table of {circuit.title}, {basis}")
        self.stdout.write(f"{len(circuit.components)} components, {len(circuit.connections)} connections")
        self.stdout.write(table_text(table, explain=options["explain"], open_only=options["open_only"]), ending="")


def _of_file(name):
    text = read_text(name, most_bytes=MOST_BYTES)
    try:
        circuit = read_circuit(text, title=Path(name).stem)
    except CircuitFileError as error:
        raise _refused(name, error.problems) from None
    if problems := check_circuit(circuit):
        raise _refused(name, problems)
    return circuit, f"as in {'standard input' if name == '-' else Path(name).name}"


def _of_machine(asset_number, day):
    machine = Machine.objects.with_place().filter(asset_number=asset_number).first()
    if machine is None:
        raise CommandError(f"There is no machine {asset_number!r} in the register. Give its asset number.")
    today = machine.site.date_of(timezone.now())
    found = circuit_as_measured(machine, day or today, today=today)
    if found.circuit is None and not found.problems:
        raise CommandError(f"Machine {machine}: {found.basis}. Record the model's circuit, or connect its components.")
    if found.problems:
        raise _refused(f"Machine {machine}", found.problems)
    return found.circuit, f"{found.basis}{f', on {day.isoformat()}' if day else ''}"


def _table(circuit, pairs):
    causes = pairs_of(circuit, at_least=pairs) if pairs else causes_of(circuit)
    if len(causes) > MOST_CAUSES:
        what = f"pairs of causes that are each at least {pairs}" if pairs else "causes"
        raise CommandError(
            f"{circuit.title} has {len(causes):,} {what}; accepted: {MOST_CAUSES:,} at most."
            f"{' Ask for likelier pairs.' if pairs else ''}"
        )
    try:
        return cover_table(circuit, causes=causes)
    except NoSolution as error:
        raise CommandError(f"{circuit.title} cannot be computed even in ordinary use. {error}") from None


def _day(text):
    try:
        return read_day(text) if text else None
    except ValueError as error:
        raise CommandError(f"--on: {error}") from None


def _refused(what, problems):
    lines = [f"  {problem}" for problem in problems]
    return CommandError("\n".join([f"{what} cannot be computed, {len(lines)} problems:", *lines]))
