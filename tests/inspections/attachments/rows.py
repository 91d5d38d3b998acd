"""Files to attach, and a row of each standing."""

from inspections.actions import attach_file, withdraw_attachment
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
    """A file in place, and a withdrawn one."""
    first = attach(by, f"{mark} letter", title=f"{mark} letter", machine=machine)
    second = attach(by, f"{mark} other", title=f"{mark} other", machine=machine)
    withdraw_attachment(second, reason=f"{mark} belongs elsewhere", by=by, at=NOON)
    return first
