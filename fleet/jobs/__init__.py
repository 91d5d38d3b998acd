"""Background jobs, with progress, cancelled when asked, safe to repeat and to kill.

    @job_kind("record-papers", "Records as PDF", permission="inspections.view_inspection")
    def write_records(run):
        for pk in run.each(run.params["inspections"], "Writing records"):
            ...
        return Result("12 records", file=archive, name="records.zip")

    request_job("record-papers", title="12 records", params={...}, by=request.user, at=now)   # fleet.actions

The function gets a Run (params, by, started_at) and must be safe to repeat from its beginning. A job that changes
records does so in one transaction that ends in `run.finish(Result(...))`, which commits the change and the end of the
job together.
"""

from fleet.jobs.errors import Cancelled, Lost, Stopped
from fleet.jobs.kinds import JobKind, Result, get_kind, job_kind, kind_label, may_ask
from fleet.jobs.run import Run

__all__ = ["Cancelled", "JobKind", "Lost", "Result", "Run", "Stopped", "get_kind", "job_kind", "kind_label", "may_ask"]
