"""Print the seals of the sites, for keeping elsewhere."""

from django.core.management.base import BaseCommand
from django.utils import timezone

from inspections.chain.seals import seals_of


class Command(BaseCommand):
    help = (
        "Print one seal for each site and one for the journal: the newest entry. Store the text where nobody who can "
        "change the database can change it; verify_records --seal FILE then finds what was removed or rewritten up to "
        "now."
    )

    def handle(self, **options):
        self.stdout.write(f"# Bobbin seals of {timezone.now().isoformat(timespec='seconds')}")
        for seal in seals_of():
            self.stdout.write(str(seal))
