"""What the public page shows of a machine: whether it may be used, its last inspection, and which check is due."""

from dataclasses import dataclass
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from fleet.models import MachineStatus
from inspections.models import Finding, Inspection, UserCheck


@dataclass(frozen=True, slots=True)
class Standing:
    """All that is shown without a login, apart from the asset number.

    is_usable         in service, and no essential finding is open
    last_signed       the date of the last signed inspection at the site, None for none
    awaits_first_use  it came back from service and nobody has recorded the first-user check
    """

    is_usable: bool
    is_retired: bool
    last_signed: date | None
    awaits_first_use: bool


def standing_of(machine) -> Standing:
    last, usable = last_signed_at(machine), is_usable(machine)
    return Standing(
        is_usable=usable,
        is_retired=machine.status == MachineStatus.RETIRED,
        last_signed=machine.site.date_of(last) if last else None,
        awaits_first_use=usable and bool(first_use_awaited_since(machine, last)),
    )


def is_usable(machine) -> bool:
    """Whether the page may call it in service: an open essential finding says that the machine must not be used."""
    in_service = machine.status == MachineStatus.IN_SERVICE
    return in_service and not Finding.objects.open().essential().filter(machine=machine).exists()


def last_signed_at(machine):
    return Inspection.objects.signed().filter(machine=machine).order_by("-signed_at").values_list(
        "signed_at", flat=True
    ).first()  # fmt: skip


def first_use_awaited_since(machine, last_signed):
    """Return since when the first-user check is awaited; None if it was recorded, or the machine has no service yet, or
    is not in service.

    A check that found a problem does not end the wait. It is due after every inspection and every return to service.
    Source: AAGBI, Checking Anaesthetic Equipment 2012, Anaesthesia 2012; 67: 660-68 (summary).
    """
    if machine.status != MachineStatus.IN_SERVICE:
        return None
    served = [moment for moment in (last_signed, _returned_at(machine)) if moment]
    if not served:
        return None
    checks = UserCheck.objects.by_first_user().without_problem().filter(machine=machine).since(max(served))
    return None if checks.exists() else max(served)


def _returned_at(machine):
    """When it last returned to service; the first status of a machine is no return.

    A register file brings changes of earlier days, so the day decides, and the moment of recording within the day.
    """
    newest = machine.status_changes.order_by("-changed_on", "-recorded_at", "-pk")[:2]
    if len(newest) < 2 or newest[0].status != MachineStatus.IN_SERVICE:
        return None
    change, site = newest[0], machine.site
    if site.date_of(change.recorded_at) == change.changed_on:
        return change.recorded_at
    return datetime.combine(change.changed_on, time(), ZoneInfo(site.time_zone))
