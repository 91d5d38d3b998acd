from django.core.management.base import BaseCommand, CommandError

from config.health.services import State, examine, is_in_order

NAMES = ("web", "database", "tables", "space", "broker", "worker", "scheduler")


class Command(BaseCommand):
    help = "Show which services of this installation are up. Exit status 1 if a required one is not."
    requires_system_checks = []

    def add_arguments(self, parser):
        parser.add_argument("--only", choices=NAMES[1:], help="check this service only, as its container does")

    def handle(self, *args, only, **options):
        # This command is no web process: check that one at /health/live/.
        parts = [part for part in examine() if part.name != "web" and only in (None, part.name)]
        for part in parts:
            said = [f"{part.ms} ms" if part.ms is not None else "", part.note, part.detail]
            self.stdout.write(f"{part.name:<10} {part.state:<9} {'; '.join(filter(None, said))}".rstrip())
        if not is_in_order(parts):
            down = ", ".join(part.name for part in parts if part.state in (State.DOWN, State.UNKNOWN))
            raise CommandError(f"not up: {down}")
