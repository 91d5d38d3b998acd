"""Exposure by hazard over time, computed in the background and stored."""

from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from fleet.actions import request_job
from fleet.jobs import Result, job_kind
from fleet.models import Site
from fleet.web.at_site import as_shown_to
from inspections.exposure_history.computing import compute_exposure
from inspections.models import ExposureHistory, FleetChoice

EXPOSURE = "exposure-history"
KEPT = 12  # newest ones of a site and choice that stay


def request_exposure(site, choice, *, by, at):
    """Ask for the exposure of a site (None: all that the person may see) under a stored choice (None: without)."""
    params = {"site": site.pk if site else None, "choice": choice.pk if choice else None}
    return request_job(EXPOSURE, title=f"Exposure over time, {site or 'all sites'}", params=params, by=by, at=at)


@job_kind(EXPOSURE, "Exposure over time", permission="fleet.compute_circuitcover")
def exposure_over_time(run):
    site = Site.objects.visible_to(run.by).filter(pk=run.params["site"]).first() if run.params["site"] else None
    choices = FleetChoice.objects.visible_to(run.by)
    choice = choices.filter(pk=run.params["choice"]).first() if run.params["choice"] else None
    with as_shown_to(run.by):
        today = timezone.localdate(run.started_at)
        result = compute_exposure(run.by, site, choice, today=today, at=run.started_at, tell=run.progress)
    with transaction.atomic():
        stored = ExposureHistory.objects.create(site=site, choice=choice, result=result, by=run.by, at=run.started_at)
        old = ExposureHistory.objects.filter(site=site, by=run.by).exclude(pk=stored.pk).order_by("-at", "-pk")
        ExposureHistory.objects.filter(pk__in=list(old.values_list("pk", flat=True)[KEPT:])).delete()
        run.finish(Result(_words(result), link=reverse("inspections:exposure")))


def _words(result):
    machines, left = result["past"]["in_service"][-1], result["circuits"]["left"]
    words = f"{machines} machines in service, {len(result['days'])} days looked back at."
    return f"{words} {left} circuits are left for the next run." if left else words
