"""Attach a file to something, withdraw it, remove its content. A file is never replaced, its row never deleted."""

from django.db import IntegrityError, transaction

from fleet.changes import record_created, recording
from fleet.web.at_site import day_words
from inspections.errors import AttachmentRefused
from inspections.models import Attachment, SeriousIncident
from inspections.models.attachments import MOST_OF_ONE
from inspections.retention.passed import has_passed
from inspections.retention.rules import RULE_OF


@transaction.atomic
def attach_file(accepted, *, title, by, at, **subject):
    """Store an AcceptedFile on one thing, such as machine=machine. Return the Attachment.

    Raise AttachmentRefused without a title, for a file that is there already, and for one too many.
    """
    there = Attachment.objects.filter(**subject)
    if not title.strip():
        raise AttachmentRefused("State in a few words what the file shows. Nothing was saved.")
    if same := _same(there, accepted):
        raise AttachmentRefused(
            f"The same file is attached already: “{same}”, by {same.by} on {day_words(same.at)}. Nothing was saved."
        )
    if there.count() >= MOST_OF_ONE:
        raise AttachmentRefused(
            f"{next(iter(subject.values()))} has {MOST_OF_ONE} attached files, which is the most. Put what belongs "
            "together into one PDF. Nothing was saved."
        )
    attachment = Attachment(
        content=accepted.content, kind=accepted.kind, name=accepted.name, digest=accepted.digest,
        received_digest=accepted.received_digest, octets=accepted.octets, title=title.strip(), by=by, at=at, **subject,
    )  # fmt: skip
    _insert(attachment)
    record_created([attachment], by=by, at=at)
    return attachment


def _same(there, accepted):
    in_place = there.in_place().select_related("by")
    return in_place.filter(digest=accepted.digest).first() or (
        in_place.filter(received_digest=accepted.received_digest).first()
    )


def _insert(attachment):
    try:
        with transaction.atomic():
            attachment.save(force_insert=True)
    except IntegrityError:
        raise AttachmentRefused("The same file was attached by somebody else just now. Nothing was saved.") from None


@transaction.atomic
def withdraw_attachment(attachment, *, reason, by, at):
    """Say that a file is no evidence any longer, and why. The row and the file stay.

    Raise AttachmentRefused without a reason, and if it was withdrawn already.
    """
    if not reason.strip():
        raise AttachmentRefused(f"State why “{attachment}” is withdrawn. Nothing was saved.")
    with recording(attachment, by=by, at=at):
        rows = Attachment.objects.in_place().filter(pk=attachment.pk)
        if not rows.update(withdrawn_by=by, withdrawn_at=at, withdrawn_reason=reason.strip()):
            raise AttachmentRefused(f"“{attachment}” was withdrawn already.")
    attachment.refresh_from_db(fields=["withdrawn_by", "withdrawn_at", "withdrawn_reason"])


@transaction.atomic
def remove_attachment_content(attachment, *, reason, by, at, never_should_be=False):
    """Delete the file of an attachment. The row and the digest stay, with who removed it, when and why.

    never_should_be  a withdrawn file that should never have been stored, such as one on which a patient is recognised

    Raise AttachmentRefused without a reason, before the period is over, and while the machine has an open incident.
    """
    if not reason.strip():
        raise AttachmentRefused(f"State why the file of “{attachment}” is removed. Nothing was removed.")
    _refuse_before_its_time(attachment, at, never_should_be)
    with recording(attachment, by=by, at=at):
        rows = Attachment.objects.with_content_there().filter(pk=attachment.pk)
        if not rows.update(content=None, removed_by=by, removed_at=at, removed_reason=reason.strip()):
            raise AttachmentRefused(f"The file of “{attachment}” was removed already.")
    attachment.refresh_from_db(fields=["removed_by", "removed_at", "removed_reason"])


def _refuse_before_its_time(attachment, at, never_should_be):
    machine, today = attachment.machine_concerned, attachment.site.date_of(at) if attachment.site else at.date()
    if machine and SeriousIncident.objects.open().filter(machine=machine).exists():
        raise AttachmentRefused(f"Machine {machine} has an open serious incident: nothing of it is removed.")
    if has_passed(attachment, today) or (never_should_be and not attachment.is_in_place):
        return
    withdrawn = "" if attachment.is_in_place else " Or say that it should never have been stored."
    raise AttachmentRefused(
        f"“{attachment}” is to be kept: {RULE_OF[attachment.of].words}. Nothing was removed.{withdrawn}"
    )
