"""Whether a body with a photograph may be sent without a login, decided before any of it is read."""

import re

from inspections.label_page.rate_limits import PICTURES, REPORTS, UNKNOWN, count, exhausted
from inspections.models import MachineLabel

FAULT_PATH = re.compile(r"/m/([^/]{1,60})/fault/")
REFUSED = (
    "A photograph is not accepted here now: the label is not valid, or many photographs came from this network. Go "
    "back, where your browser has kept what you entered, and send the report without the photograph, or call. None of "
    "it was read."
)


def code_in(path: str) -> str:
    """Return the code in the address of a fault report, empty for any other address."""
    found = FAULT_PATH.fullmatch(path)
    return found[1] if found else ""


def may_send_photograph(code: str, address: str) -> bool:
    """Whether this network address may send a large body for this code. Counts it, so ask once for each body."""
    if exhausted(UNKNOWN, address) or exhausted(REPORTS, address):
        return False
    labels = MachineLabel.objects.in_force().with_code(code)
    if not labels.filter(machine__area__site__has_label_page=True).exists():
        count(UNKNOWN, address)
        return False
    return not count(PICTURES, address)
