"""What inspections set up when the program starts. Importing the jobs declares them."""

from fleet.acting.watching import watch
from fleet.current_state.concerned import rests_on_rows_of
from fleet.extensions import extend_fleet
from inspections import jobs, personal_data, tracked  # noqa: F401
from inspections.kept import job  # noqa: F401
from inspections.kept.kinds import keep_rows
from inspections.models import Finding, Inspection
from inspections.on_machine_page.panels import EXTENSION


def start():
    extend_fleet(EXTENSION)
    rests_on_rows_of(Inspection)
    rests_on_rows_of(Finding)
    tracked.register()
    personal_data.register()
    keep_rows()
    watch()  # last, since only now all models are known and what is left out is declared
