from django.core.management.base import BaseCommand
from django.utils import timezone

from fleet.jobs.heartbeat import SCHEDULER, leave_heartbeat
from fleet.jobs.running import run_waiting_jobs
from fleet.jobs.sweep import sweep


class Command(BaseCommand):
    help = "Run the waiting background jobs in this process, then end. With --due, request today's daily jobs first."

    def add_arguments(self, parser):
        parser.add_argument(
            "--due",
            action="store_true",
            help="first request the daily jobs that are due and resume interrupted ones; for cron",
        )

    def handle(self, *args, due, **options):
        if due:
            leave_heartbeat(SCHEDULER, at=timezone.now())
            sweep(at=timezone.now())
        count = run_waiting_jobs(clock=timezone.now)
        self.stdout.write(f"{count} job{'s' if count != 1 else ''} done.")
