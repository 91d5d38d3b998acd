from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from fleet.management.database_check import require_sound_database
from inspections.kept.completions import NAME, compare_completions, mend_completions
from inspections.kept.keeping import compare, fill
from inspections.kept.kinds import KINDS
from inspections.kept_counts.counts import NAME as COUNTS
from inspections.kept_counts.counts import compare_counts, fill_counts

SHOWN = 20


class Command(BaseCommand):
    help = (
        "Compare the kept due dates, retirement reviews, counts and completions of signed inspections with the "
        "records, and renew what differs, the reviews for today. With --check nothing is changed, and the command ends "
        "with 1 if anything differs."
    )

    def add_arguments(self, parser):
        parser.add_argument("--check", action="store_true", help="Compare only; change nothing.")

    def handle(self, *args, check, **options):
        require_sound_database()
        now, today = timezone.now(), timezone.localdate()
        found = {kind.name: list(compare(kind)) if check else fill(kind, at=now, day=today) for kind in KINDS}
        found[NAME] = list(compare_completions()) if check else mend_completions()
        found[COUNTS] = list(compare_counts()) if check else fill_counts(at=now)
        for name, differences in found.items():
            for one in differences[:SHOWN]:
                of = f"Machine with the key {one.machine}, {name}" if name != COUNTS else "Count"
                self.stdout.write(f"{of}: {one.words}.")
            done = "differ" if check else "renewed"
            self.stdout.write(f"{name.capitalize()}: {len(differences)} {done}.")
        if check and any(found.values()):
            raise CommandError("Rows differ. Run the command without --check to renew them.")
