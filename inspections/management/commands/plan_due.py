from django.core.management.base import BaseCommand

from inspections.tasks import plan_due


class Command(BaseCommand):
    help = "Plan, for every machine that is not retired, the next inspection of each procedure with an interval."

    def handle(self, *args, **options):
        planned = plan_due.apply().get()
        self.stdout.write(f"{planned} inspection{'s' if planned != 1 else ''} planned.")
