"""The cover report of a large fleet as a file, made in the background."""

import io

from django.http import QueryDict
from django.utils import timezone

from fleet.cover_report.export import EXPORTS
from fleet.cover_report.form import CoverForm
from fleet.cover_report.queries import Unneeded, select_machines
from fleet.cover_report.report import build_report
from fleet.jobs import Result, job_kind
from fleet.web.at_site import as_shown_to

COVER_EXPORT = "cover-export"
MOST_AT_ONCE = 3000  # machines beyond which the file is made in the background


@job_kind(COVER_EXPORT, "Cover report as a file", permission="fleet.export_register")
def write_cover(run):
    """Write the report for the query string, with the machines that the person may see now."""
    with as_shown_to(run.by):
        fmt, today = run.params["fmt"], timezone.localdate(run.started_at)
        wanted = CoverForm(QueryDict(run.params["query"]), person=run.by, today=today).wanted()
        unneeded = Unneeded()
        run.progress(0, 2, "Counting safety features")
        machines = select_machines(wanted, run.by, unneeded)
        report = build_report(machines, wanted, unneeded)
        run.progress(1, 2, f"Writing {report.machines} machines")
        content = EXPORTS[fmt](report, machines.with_place(), f"Made for {run.by}")
        return Result(f"Cover report of {report.machines} machines.", io.BytesIO(content), f"cover-{wanted.on}.{fmt}")
