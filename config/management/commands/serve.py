import os
import sys

from django.conf import settings
from django.core.management.base import BaseCommand
from django.db import connection

from fleet.management.database_check import require_tables

PARENT = settings.BASE_DIR / "config" / "serving" / "parent.py"


class Command(BaseCommand):
    help = (
        "Serve an installation without a broker: the web server, and beside it the scheduler for background "
        "and daily jobs, "
        "restarted if it ends. Arguments after -- are passed to gunicorn. With REDIS_URL only the web server "
        "is started."
    )

    def add_arguments(self, parser):
        parser.add_argument("gunicorn", nargs="*", help="options of gunicorn, after --")

    def handle(self, *args, gunicorn, **options):
        """Check the database, then become the parent of the processes: same process, without what was loaded here."""
        require_tables()
        connection.close()
        scheduler = [] if settings.REDIS_URL else ["--scheduler"]
        os.chdir(settings.BASE_DIR)
        os.execv(sys.executable, [sys.executable, "-P", str(PARENT), *scheduler, *gunicorn])
