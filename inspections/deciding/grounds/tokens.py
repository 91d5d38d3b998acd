"""Grounds in a form: compressed and signed, so that what the page showed can be compared line by line."""

from django.core import signing

SALT = "inspections.grounds"


def write_token(about, grounds):
    """The text that a hidden field carries. `about` names the decision, such as “sign 41”."""
    return signing.dumps({"about": about, "grounds": grounds}, salt=SALT, compress=True)


def read_token(text, about):
    """Return the grounds that a form carried; None if there are none, or they are about something else."""
    try:
        told = signing.loads(text, salt=SALT)
    except signing.BadSignature:
        return None
    return told["grounds"] if told["about"] == about else None
