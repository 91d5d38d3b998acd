"""The task of every minute: request due jobs, recover runs that died, remove old results."""

from datetime import timedelta

from fleet.jobs.lifecycle import lease, recover_jobs
from fleet.jobs.periodic import request_due_jobs
from fleet.models import Job
from fleet.models.jobs import job_files

KEEP_FILES = timedelta(days=14)
KEEP_JOBS = timedelta(days=365)
KEEP_STRAYS = timedelta(days=1)  # age of a file that no job names: its run died before it closed the job
AT_ONCE = 200


def sweep(*, at):
    """Recover jobs, request what is due, and remove what is old. Safe to repeat and to run twice at the same time."""
    recover_jobs(at=at, lease=lease())
    request_due_jobs(at=at)
    remove_old_results(at=at)


def remove_old_results(*, at):
    """Remove the files of jobs that ended KEEP_FILES ago, files without a job, and jobs that ended KEEP_JOBS ago."""
    for job in Job.objects.finished_before(at - KEEP_FILES).with_file()[:AT_ONCE]:
        job.file.storage.delete(job.file.name)
        Job.objects.filter(pk=job.pk).update(file="")
    Job.objects.finished_before(at - KEEP_JOBS).filter(file="").delete()
    _remove_strays(at)


def _remove_strays(at):
    storage = job_files()
    if not storage.exists(""):
        return
    old = [name for name in storage.listdir("")[1] if storage.get_modified_time(name) < at - KEEP_STRAYS][:AT_ONCE]
    named = set(Job.objects.filter(file__in=old).values_list("file", flat=True))
    for name in old:
        if name not in named:
            storage.delete(name)
