"""Write one of the papers to a file, as the pages would send it."""

from pathlib import Path

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from fleet.cover_report import CoverFilter, build_report, select_machines
from fleet.cover_report.export import EXPORTS
from fleet.cover_report.queries import Unneeded
from fleet.days import day_argument, long_date
from fleet.models import Machine
from inspections.models import Inspection
from inspections.reports.label import write_label
from inspections.reports.record import NotSigned, write_record
from inspections.reports.review import write_review
from inspections.reports.sources import for_record, label_of, label_url
from inspections.retirement.gathering import rank_machines

KINDS = ("cover", "review", "record", "label")


class Command(BaseCommand):
    help = "Write the cover report (pdf, csv, xlsx), the retirement review, an inspection record or a label to a file."

    def add_arguments(self, parser):
        parser.add_argument("kind", choices=KINDS)
        parser.add_argument("--pk", type=int, help="the inspection of a record, the machine of a label")
        parser.add_argument("--on", type=day_argument, help="day of a cover report, YYYY-MM-DD")
        parser.add_argument("--out", type=Path, required=True, metavar="FILE", help="file to write; it is replaced")

    def handle(self, *, kind, pk, on, out, **options):
        if kind in ("record", "label") and pk is None:
            of_what = "inspection" if kind == "record" else "machine"
            raise CommandError(f"A {kind} needs --pk: the number of the {of_what}.")
        content = getattr(self, f"_{kind}")(pk=pk, on=on, out=out)
        try:
            out.write_bytes(content)
        except OSError as error:
            raise CommandError(f"{out} cannot be written: {error.strerror}. Choose another file.") from None
        self.stdout.write(f"{out}: {len(content):,} bytes")

    def _cover(self, *, on, out, **options):
        write = EXPORTS.get(out.suffix.removeprefix("."))
        if write is None:
            raise CommandError(f"{out} ends in “{out.suffix}”; a cover report is one of: {', '.join(EXPORTS)}.")
        today = timezone.localdate()
        if on and on > today:
            raise CommandError(f"{on} is in the future. Give a date up to {today}.")
        wanted, unneeded = CoverFilter(on=on or today, today=today), Unneeded()
        machines = select_machines(wanted, None, unneeded)
        by = "Printed from the command line"
        return write(build_report(machines, wanted, unneeded), machines.with_place(), by)

    def _review(self, **options):
        today = timezone.localdate()
        ranked = rank_machines(Machine.objects.not_retired(), today)
        return write_review(ranked, on=today, asked=[], made=f"Printed from the command line, {long_date(today)}")

    def _record(self, *, pk, **options):
        inspection = for_record(Inspection.objects).filter(pk=pk).first()
        if inspection is None:
            raise CommandError(f"There is no inspection {pk}.")
        try:
            return write_record(inspection, list(inspection.amendments.select_related("by", "step")))
        except NotSigned as error:
            raise CommandError(str(error)) from None

    def _label(self, *, pk, **options):
        machine = Machine.objects.with_place().filter(pk=pk).first()
        if machine is None:
            raise CommandError(f"There is no machine {pk}.")
        url = label_url(machine, base_url=settings.BASE_URL, by=None, at=timezone.now())
        return write_label(label_of(machine, url=url))
