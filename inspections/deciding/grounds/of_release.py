"""What the page of a release shows."""

from fleet.place_format import NEUTRAL, using
from inspections.deciding.grounds.of_finding import finding_lines
from inspections.deciding.grounds.of_record import record_grounds
from inspections.deciding.release import reasons_against_release
from inspections.models import Finding


@using(NEUTRAL)
def release_grounds(machine, retest):
    """Describe the withdrawn machine, what is open on it, and the retest that the release rests on."""
    withdrawal = machine.status_change_in_force()
    grounds = {
        "Machine": {
            "Machine": f"{machine}, {machine.model}",
            "Location": str(machine.area),
            "Status": machine.status,
            "Since": f"{withdrawal.changed_on.isoformat()}, {withdrawal.reason} ({withdrawal.by})"
            if withdrawal
            else "",
        },
        "Reasons against release": {
            f"Reason {number}": reason for number, reason in enumerate(reasons_against_release(machine, retest), 1)
        },
        "Second person": _rules(machine.site),
    }
    for finding in Finding.objects.open().filter(machine=machine).select_related("result__step"):
        grounds[f"Finding {finding.pk}"] = finding_lines(finding)
    return grounds | record_grounds(retest)


def _rules(site):
    rules = {
        "Every release": "a second person" if site.two_for_release else "one person",
        "Who signed the retest": "may release" if site.signer_may_release else "does not release alone",
    }
    return rules | ({"Who did the repair": "does not release alone"} if site.two_after_repair else {})
