"""Search the register again for what safety notices name: on request, after an import, and every night."""

from datetime import time

from fleet.actions import request_job
from fleet.jobs import Result, job_kind
from fleet.jobs.periodic import run_daily
from fleet.models import Calibration
from fleet.web.at_site import at_site
from inspections.actions import match_notice, open_found_error_notice
from inspections.deciding.found_error import found_error, inspections_on, loaded, suspected
from inspections.models import SafetyNotice

MATCH_ONE, MATCH_ALL, FOUND_ERROR = "match-notice", "match-notices", "found-error-notice"


def request_matching(notice, *, by, at):
    return request_job(MATCH_ONE, title=f"Search for {notice}", params={"notice": notice.pk}, by=by, at=at)


def request_matching_of_all(*, by, at):
    """Ask for a search for every notice, after machines, components or instruments were imported."""
    return request_job(MATCH_ALL, title="Search for safety notices", params={}, by=by, at=at)


def request_found_error_notice(calibration, *, by, at):
    title = f"Notice of {calibration.instrument.code} and its certificate {calibration.certificate}"
    return request_job(FOUND_ERROR, title=title, params={"calibration": calibration.pk}, by=by, at=at)


def notice_of_found_error(calibration, person, *, at, each=lambda inspections, total: inspections):
    """Decide the signed inspections of an instrument again and open a notice of those that would change.

    each  a function that passes the inspections on, of which there are `total`
    """
    error = found_error(calibration)
    chosen = list(inspections_on(error, person).values_list("pk", flat=True))
    found = []
    for inspection in each(loaded(chosen), len(chosen)):
        with at_site(inspection.machine.site):
            found += suspected(inspection, error)
    received = calibration.instrument.site.date_of(at)
    return open_found_error_notice(calibration, found, looked=len(chosen), received_on=received, by=person, at=at)


@job_kind(MATCH_ONE, "Search for a safety notice", permission="inspections.add_safetynotice")
def match_one(run):
    notice = SafetyNotice.objects.get(pk=run.params["notice"])
    added = match_notice(notice, by=run.by, at=run.started_at)
    return Result(f"{notice}: {_items(added)}.", link=notice.get_absolute_url())


@job_kind(MATCH_ALL, "Search for safety notices")
def match_all(run):
    """Search for the closed notices too: a machine that arrives later opens its notice again."""
    notices = list(SafetyNotice.objects.exclude(criteria=None).order_by("pk"))
    added = sum(match_notice(one, at=run.started_at) for one in run.each(notices, "Searching"))
    return Result(f"{len(notices)} notice{'' if len(notices) == 1 else 's'} searched for: {_items(added)}.")


@job_kind(FOUND_ERROR, "Notice of an instrument found in error", permission="inspections.add_safetynotice")
def found_error_notice(run):
    calibrations = Calibration.objects.visible_to(run.by).select_related("instrument__site")
    calibration = calibrations.get(pk=run.params["calibration"])

    def each(inspections, total):
        return run.each(inspections, "Deciding records again", total=total)

    notice = notice_of_found_error(calibration, run.by, at=run.started_at, each=each)
    return Result(f"{notice}: {_items(notice.items.count())}.", link=notice.get_absolute_url())


def _items(number):
    return f"{number} item{'' if number == 1 else 's'} added" if number else "no new item"


run_daily(MATCH_ALL, "Search for safety notices", at=time(3, 30))
