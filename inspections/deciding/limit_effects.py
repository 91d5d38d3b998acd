"""Which inspections in progress would be judged by a new limit, or by the end of one."""

from dataclasses import dataclass

from fleet.models import MachineModel, Site
from inspections.models import Inspection, InspectionStep, LimitOverride


@dataclass(frozen=True, slots=True)
class LimitChange:
    """A limit for one result of a machine model or a site, that begins or, with `ends`, ends on a day."""

    test_code: str
    result_key: str
    day: object
    machine_model: object = None
    site: object = None
    ends: object = None


def inspections_judged_by(change):
    """The inspections in progress that have the test among their steps and were opened on the day or later."""
    tested = InspectionStep.objects.that_apply().filter(test_code=change.test_code).values("inspection")
    in_progress = Inspection.objects.in_progress().filter(pk__in=tested)
    if change.machine_model:
        in_progress = in_progress.filter(machine__model=change.machine_model)
    else:
        in_progress = in_progress.filter(machine__area__site=change.site)
    found = in_progress.with_place().order_by("pk")
    return [one for one in found if one.machine.site.date_of(one.opened_at) >= change.day]


def hold_limits(change):
    """Lock what the limit is for and the inspections that it would judge, until the transaction ends.

    Two changes of limits come one after the other, and so do a change and the signature of what it judges.
    """
    target = change.machine_model or change.site
    model = MachineModel if change.machine_model else Site
    model.objects.select_for_update(no_key=True).get(pk=target.pk)
    judged = [one.pk for one in inspections_judged_by(change)]
    list(Inspection.objects.select_for_update(no_key=True).filter(pk__in=judged).order_by("pk"))


def limit_grounds(change, judged, in_words):
    """Describe what would be changed, which limits of the result are in force beside it, and what it would judge."""
    same = LimitOverride.objects.filter(
        test_code=change.test_code,
        result_key=change.result_key,
        machine_model=change.machine_model,
        site=change.site,
    )
    beside = same.not_ended(change.day).select_related("machine_model", "site")
    return {
        "Change": {"Limit": in_words},
        "Limits of this result": {f"Limit {one.pk}": _limit_line(one) for one in beside},
        "Inspections in progress": {
            str(one): f"{one.machine}, opened {one.opened_at.isoformat()} by {one.technician}" for one in judged
        },
    }


def _limit_line(one):
    until = f" until {one.until_date.isoformat()}" if one.until_date else ""
    ends = f"{one.rule or ''} {one.lower} {one.upper} {one.unit}".strip()
    return f"{ends}; {one.source}; from {one.from_date.isoformat()}{until}"
