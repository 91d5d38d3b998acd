from pathlib import Path

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from inspections.actions import load_procedures
from inspections.at_bench.procedure_files import DIRECTORY
from inspections.errors import ProcedureError


class Command(BaseCommand):
    help = "Load the procedure files. A changed file becomes a new version; signed records keep the old version."

    def add_arguments(self, parser):
        parser.add_argument(
            "directory",
            nargs="?",
            type=Path,
            default=DIRECTORY,
            help="Folder of *.toml files; by default Bobbin's own, but for those that the department writes on pages.",
        )

    def handle(self, *args, directory, **options):
        try:
            created = load_procedures(directory, at=timezone.now(), keep_own=directory == DIRECTORY)
        except ProcedureError as error:
            raise CommandError(str(error)) from None
        for version in created:
            self.stdout.write(f"New: {version}")
        self.stdout.write(f"{len(created)} new version{'s' if len(created) != 1 else ''}, the others unchanged.")
