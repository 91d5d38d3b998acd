"""Write the cover tables that come with the program, or say which of them are outdated."""

from pathlib import Path

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from fleet.circuit.digest import circuit_digest
from fleet.circuits.covers.computing import compute
from fleet.circuits.covers.sharing import shared_circuit
from fleet.circuits.covers.shipped import FOLDER
from fleet.circuits.covers.shipping import (
    circuits_of_the_kit,
    circuits_shipped,
    outdated,
    remove_others,
    shipped_files,
    write_shipped,
)
from fleet.circuits.measured_circuit import circuits_as_measured
from fleet.models import Machine


class Command(BaseCommand):
    help = (
        "Compute the cover tables that come with the program and write them into its folder: after a change of laws, "
        "elements, causes or catalogues. Exit status: 0 written, or with --check none is outdated; 1 one is; 2 wrong "
        "use."
    )
    requires_system_checks = []
    requires_migrations_checks = False

    def add_arguments(self, parser):
        what = parser.add_mutually_exclusive_group()
        what.add_argument("--check", action="store_true", help="change nothing, and name the files that are outdated")
        what.add_argument(
            "--machines", action="store_true",
            help="ship the circuits of the machines of this database, that of the demonstration, and of the kit",
        )  # fmt: skip
        parser.add_argument("--folder", type=Path, default=FOLDER, help="another folder than that of the program")

    def handle(self, *, check, machines, folder, **options):
        if check:
            self._check(folder)
            return
        circuits = circuits_of_the_kit() + (self._of_machines() if machines else circuits_shipped(folder))
        chosen = {circuit_digest(circuit): circuit for circuit in circuits}
        remove_others(chosen, folder)
        for number, circuit in enumerate(chosen.values(), start=1):
            path = write_shipped(circuit, compute(circuit), folder)
            self.stdout.write(f"{number} of {len(chosen)}: {circuit.title}, {path.stat().st_size:,} bytes")

    def _check(self, folder):
        if old := outdated(folder):
            names = "\n".join(f"  {path.name}" for path in old)
            raise CommandError(
                f"{len(old)} shipped cover tables are of another program. Run this command without --check:\n{names}",
                returncode=1,
            )
        count = len(shipped_files(folder))
        self.stdout.write(f"{count} shipped cover tables are those of this program.")

    def _of_machines(self):
        found = list(Machine.objects.with_place().not_retired().order_by("asset_number"))
        circuits = circuits_as_measured(found, timezone.localdate())
        return [shared_circuit(one, circuits[one.pk])[0] for one in found if circuits[one.pk].can_be_solved]
