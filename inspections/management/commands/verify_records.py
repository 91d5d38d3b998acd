"""Verify that every signed record is as it was signed."""

from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from fleet.management.database_check import require_sound_database
from fleet.models import Site
from inspections.chain.journal import JOURNAL
from inspections.chain.seals import SealError, read_seals
from inspections.chain.verification import Verification, verify_store

MOST_SHOWN = 1000


class Command(BaseCommand):
    help = (
        "Verify the chain of every site with every row behind a signed record, and the journal with every row that "
        "decides something. Report what was altered, removed or inserted, and entries out of time order. Exit "
        "status: 0 if "
        "everything is as signed, 1 if not, 2 if it cannot be verified."
    )

    def add_arguments(self, parser):
        parser.add_argument("--site", metavar="CODE", help="verify one site only")
        parser.add_argument("--seal", type=Path, metavar="FILE", help="file of seals as printed by “seal”")

    def handle(self, *, site, seal, **options):
        require_sound_database()
        sites = _sites(site)
        seals = _seals(seal)
        if sites is not None:
            seals = [each for each in seals if each.site in {JOURNAL, *(one.pk for one in sites)}]
        seen, count = Verification(), 0
        for count, trouble in enumerate(verify_store(sites=sites, seals=seals, seen=seen), start=1):
            if count <= MOST_SHOWN:
                self.stdout.write(str(trouble))
        if count > MOST_SHOWN:
            self.stdout.write(f"... and {count - MOST_SHOWN:,} more")
        sealed = f", {len(seals)} seal{'' if len(seals) == 1 else 's'}" if seals else ""
        looked = f"{seen.records:,} records, {seen.entries:,} entries, {len(seen.sites):,} sites"
        looked += f", {seen.rows:,} rows, {seen.links:,} journal entries{sealed}"
        if count:
            raise CommandError(f"{looked}: {count:,} not as signed.", returncode=1)
        self.stdout.write(f"{looked}: all as signed.")


def _sites(code):
    if code is None:
        return None
    found = list(Site.objects.filter(code=code))
    if not found:
        known = ", ".join(Site.objects.order_by("code").values_list("code", flat=True)[:50])
        raise CommandError(f"There is no site “{code}”. Sites: {known}.", returncode=2)
    return found


def _seals(path):
    if path is None:
        return []
    try:
        return read_seals(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as error:
        raise CommandError(f"{path} cannot be read: {error}. Give the path of a seal file.", returncode=2) from None
    except SealError as error:
        raise CommandError(f"{path}: {error}", returncode=2) from None
