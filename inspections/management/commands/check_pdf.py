"""Check a printed record against the store."""

from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from fleet.confined import IN_BACKGROUND
from fleet.errors import FileRefused
from inspections.reports.checking import Verdict, check_paper

CODES = {Verdict.GENUINE: 0, Verdict.SUPERSEDED: 3, Verdict.SAVED_AGAIN: 4, Verdict.OTHER_LAYOUT: 5}


class Command(BaseCommand):
    help = (
        "Check whether a PDF matches the stored record. Exit status: 0 if it does, 3 if something was added to the "
        "record "
        "since, 4 if another program saved the file, 5 if another version of Bobbin printed it with other words, 1 if "
        "it was altered or is not a record of this database, 2 if it cannot be read."
    )

    def add_arguments(self, parser):
        parser.add_argument("file", type=Path)

    def handle(self, *, file, **options):
        try:
            found = check_paper(file.read_bytes(), limits=IN_BACKGROUND)
        except FileRefused as refused:
            raise CommandError(str(refused), returncode=2) from None
        except OSError as error:
            raise CommandError(
                f"{file} cannot be read: {error.strerror}. Give the path of a PDF.", returncode=2
            ) from None
        about = f" (inspection {found.inspection.pk})" if found.inspection else ""
        lines = [f"{file}{about}: {found.verdict}. {found.sentence}"]
        lines += [f"  {entry.get_kind_display()} of {entry.at:%Y-%m-%d %H:%M}, entry {entry.sequence}"
                  for entry in found.since]  # fmt: skip
        lines += [f"  stored record: {stored or 'nothing'}\n  printed record: {given or 'nothing'}"
                  for stored, given in found.differences]  # fmt: skip
        lines += [f"  {trouble}" for trouble in found.troubles]
        self.stdout.write("\n".join(lines))
        code = CODES.get(found.verdict, 1)
        if code:
            raise CommandError(f"{file} does not match the stored record: {found.verdict}.", returncode=code)
