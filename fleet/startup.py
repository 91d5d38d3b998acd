"""What the fleet sets up when the program starts. Importing the jobs declares them."""

from django.db.models.signals import post_migrate, pre_migrate

from fleet.acting.scope import hand_over_to, renew_before_journal
from fleet.altering import job as altering_job  # noqa: F401
from fleet.changes import tracked
from fleet.circuits.covers import job, pairs  # noqa: F401
from fleet.cover_report import job as cover_report_job  # noqa: F401
from fleet.current_state import job as current_state_job  # noqa: F401
from fleet.current_state import migrating as current_state
from fleet.current_state.renewing import renew_written
from fleet.forms.printable import guard_every_text_field
from fleet.imports import jobs  # noqa: F401
from fleet.journal.migrating import after_migrations, before_migrations
from fleet.journal.writing import write_links
from fleet.people import personal_data


def start():
    hand_over_to(write_links)
    renew_before_journal(renew_written)
    tracked.register()
    guard_every_text_field()
    personal_data.register()
    pre_migrate.connect(before_migrations, dispatch_uid="journal")
    post_migrate.connect(after_migrations, dispatch_uid="journal")
    post_migrate.connect(current_state.after_migrations, dispatch_uid="current-state")
