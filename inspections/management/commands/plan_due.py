from django.core.management.base import BaseCommand
from django.utils import timezone

from inspections.actions import plan_due_inspections


class Command(BaseCommand):
    help = "Plan, for every machine that is not retired, the next inspection of each procedure with an interval."

    def handle(self, *args, **options):
        planned = plan_due_inspections(today=timezone.localdate(), at=timezone.now())
        self.stdout.write(f"{planned} inspection{'s' if planned != 1 else ''} planned.")
