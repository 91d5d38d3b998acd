from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from fleet.current_state.comparing import compare_all, mend_all
from fleet.management.database_check import require_sound_database

SHOWN = 20


class Command(BaseCommand):
    help = (
        "Compare the stored current state of every machine with its records, and renew what differs. "
        "With --check nothing is changed, and the command ends with 1 if anything differs."
    )

    def add_arguments(self, parser):
        parser.add_argument("--check", action="store_true", help="Compare only; change nothing.")

    def handle(self, *args, check, **options):
        require_sound_database()
        found = list(compare_all()) if check else mend_all(at=timezone.now())
        for one in found[:SHOWN]:
            self.stdout.write(f"{one.asset_number} {one.words}.")
        if len(found) > SHOWN:
            self.stdout.write(f"And {len(found) - SHOWN} more.")
        if not found:
            self.stdout.write("The current state of every machine agrees with its records.")
        elif check:
            raise CommandError(f"{len(found)} machines differ. Run the command without --check to renew them.")
        else:
            self.stdout.write(f"{len(found)} machines differed and are renewed.")
