"""Files to attach, and a row of each standing."""

from inspections.actions import attach_file, remove_attachment_content, withdraw_attachment
from inspections.attachments import AcceptedFile
from inspections.attachments.accepting import digest_of_bytes
from tests.factories import NOON


def accepted(words="Certificate 4711", *, name="certificate.txt", kind="text"):
    """An AcceptedFile, without a look at it in another process."""
    content = words.encode()
    return AcceptedFile(content, kind, name, digest_of_bytes(content))


def attach(by, words="Certificate 4711", *, title="Certificate", at=NOON, name="certificate.txt", **subject):
    return attach_file(accepted(words, name=name), title=title, by=by, at=at, **subject)


def make_attachment_rows(machine, by, mark="Row"):
    """A file in place, a withdrawn one, and one whose content was removed. Return the first."""
    first = attach(by, f"{mark} letter", title=f"{mark} letter", machine=machine)
    second = attach(by, f"{mark} other", title=f"{mark} other", machine=machine)
    withdraw_attachment(second, reason=f"{mark} belongs elsewhere", by=by, at=NOON)
    gone = attach(by, f"{mark} patient", title=f"{mark} patient", machine=machine)
    withdraw_attachment(gone, reason=f"{mark} patient is seen", by=by, at=NOON)
    remove_attachment_content(gone, reason=f"{mark} patient is seen", never_should_be=True, by=by, at=NOON)
    return first
