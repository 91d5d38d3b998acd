"""Import a register file, whole or not at all."""

from pathlib import Path

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from fleet.actions import import_register
from fleet.errors import Refused
from fleet.models import Area, Machine, Person
from fleet.register_file import MAX_BYTES, parse_register
from fleet.register_plan import plan_import


class Command(BaseCommand):
    help = "Import machines from a CSV register file. With any problem nothing is imported and every problem is told."

    def add_arguments(self, parser):
        parser.add_argument("file", type=Path, help="CSV file, UTF-8, comma separated, header first")
        parser.add_argument("--dry-run", action="store_true", help="tell what would change and change nothing")
        parser.add_argument("--by", metavar="USERNAME", help="whose name the history shows; nobody's unless given")

    def handle(self, *, file, dry_run, by, **options):
        now = timezone.now()
        plan = plan_import(
            parse_register(_content(file)), machines=Machine.objects.all(), areas=Area.objects.all(), today=now.date()
        )
        if plan.problems:
            self.stderr.write("\n".join(str(problem) for problem in plan.problems))
            raise CommandError(f"{file.name}: {len(plan.problems)} problems, nothing imported.")
        self._tell(plan, will_be="would be" if dry_run else "are")
        if not dry_run:
            _carry_out(plan, by=_person(by), at=now, source=file.name)

    def _tell(self, plan, *, will_be):
        for update in plan.updated:
            for change in update.changes:
                self.stdout.write(f"{update.machine}: {change.column} “{change.before}” becomes “{change.after}”")
        self.stdout.write(
            f"{len(plan.created)} machines {will_be} entered, {len(plan.updated)} corrected, "
            f"{plan.unchanged} stay as they are."
        )


def _content(file):
    try:
        with file.open("rb") as opened:
            return opened.read(MAX_BYTES + 1)
    except OSError as error:
        raise CommandError(f"{file} cannot be read: {error.strerror}. Give the path of a CSV file.") from None


def _person(username):
    if username is None:
        return None
    try:
        return Person.objects.get(username=username)
    except Person.DoesNotExist:
        raise CommandError(f"Nobody has the username “{username}”. Give one of those who can log in.") from None


def _carry_out(plan, **details):
    try:
        import_register(plan, **details)
    except Refused as refused:
        raise CommandError(str(refused)) from None
