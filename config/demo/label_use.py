"""What people at the machines send from the labels: checks, and a fault report that waits for triage."""

from django.conf import settings

from fleet.models import Machine
from inspections.actions import issue_label, record_user_check, report_from_label
from inspections.label_page.machine_standing import is_usable

FIRST_USER = "OH-014"  # released by the main job
DAILY = ("OH-001", "OH-020", "CH-013")
FAULTY = "OH-020"
LIST = "Manufacturer's daily check list, theatre copy"


def tell_labels(write, *, by, at):
    """Record checks and a fault report, and print the address that a label opens."""
    labels = {
        machine.asset_number: issue_label(machine, by=by, at=at)
        for machine in Machine.objects.with_place().filter(asset_number__in={FIRST_USER, FAULTY, *DAILY})
    }
    done = {"check_list": LIST, "result": "done", "at": at}
    checks = [(FIRST_USER, "first-user", "Dr Noor Haddad"), *((number, "daily", "Lena Osei") for number in DAILY)]
    for number, kind, name in checks:
        if is_usable(labels[number].machine):
            record_user_check(labels[number], kind=kind, by_name=name, key=f"demo {kind} {number}", **done)
    report = report_from_label(
        labels[FAULTY], what="The bag/ventilator selector is stiff and jumps back.", where="Day surgery, room 2",
        who="Lena Osei, ext. 551", key="demo fault", at=at,
    )  # fmt: skip
    address = f"{settings.BASE_URL}{labels[FIRST_USER].get_absolute_url()}"
    write(f"Label        {FIRST_USER} opens {address} without a login; {report} of {FAULTY} waits for triage")
