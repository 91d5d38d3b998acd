"""Print which single failures of gas circuits the shipped procedures find, and by which steps."""

from dataclasses import replace

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from config.demo.machine_circuits import CIRCUITS
from fleet.circuits.machine_circuit import circuit_of, read_and_check
from fleet.models import Machine
from inspections.at_bench.failure_coverage import failure_coverage
from inspections.at_bench.procedure_files import read_procedures
from inspections.at_bench.step_rows import machine_on_day


class Command(BaseCommand):
    help = (
        "Print for each shipped procedure, and each circuit of the demonstration or one machine of the register, which "
        "single failures it finds and by which steps, which it does not find, and the share. A step finds what its "
        "procedure file says it finds. Exit status: 0, or 1 for what there is not."
    )

    def add_arguments(self, parser):
        parser.add_argument("procedures", nargs="*", metavar="PROCEDURE", help="code of a procedure; without it, all")
        parser.add_argument("--machine", metavar="ID", help="asset number of a machine, instead of the circuit files")
        parser.add_argument("--share", action="store_true", help="print a line for each circuit, and no failures")

    def handle(self, *, procedures, machine, share, **options):
        drawn = [_of_machine(machine)] if machine else [(circuit, None) for circuit in _circuits()]
        for content in _contents(procedures):
            self.stdout.write(f"{content['title']}, {len(content['step'])} steps")
            for circuit, on_record in drawn:
                self._write(failure_coverage(content, circuit, on_record), in_full=not share)

    def _write(self, coverage, *, in_full):
        self.stdout.write(
            f"  {coverage.title}: {len(coverage.found)} of {coverage.total} single failures found "
            f"({coverage.share:.0%}), {len(coverage.missed)} not"
        )
        if not in_full:
            return
        for title, failures in coverage.by_step.items():
            self.stdout.write(f"    {title}: {'; '.join(map(str, failures))}")
        if coverage.missed:
            self.stdout.write(f"    Not found: {'; '.join(map(str, coverage.missed))}")


def _contents(codes):
    shipped = {content["code"]: content for content in read_procedures()}
    if unknown := [code for code in codes if code not in shipped]:
        raise CommandError(f"No procedure {unknown[0]!r} is shipped. Accepted: {', '.join(shipped)}.")
    return [content for code, content in shipped.items() if not codes or code in codes]


def _circuits():
    for path in sorted(CIRCUITS.glob("*.toml")):
        circuit, problems = read_and_check(path.read_text(encoding="utf-8"), path.stem)
        if circuit is None or problems:
            raise CommandError(f"{path.name} cannot be read: {problems[0]}")
        yield circuit


def _of_machine(asset_number):
    machine = Machine.objects.with_place().filter(asset_number=asset_number).first()
    if machine is None:
        raise CommandError(f"There is no machine {asset_number!r} in the register. Give its asset number.")
    today = machine.site.date_of(timezone.now())
    found = circuit_of(machine, today)
    if found.circuit is None:
        raise CommandError(f"Machine {machine}: {found.basis}. Record the model's circuit, or connect its components.")
    return replace(found.circuit, title=f"Machine {machine}, {found.basis}"), machine_on_day(machine, today)
