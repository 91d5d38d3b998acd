"""Files attached as evidence to machines, components, calibrations, findings, inspections, notices and procedures."""

from functools import reduce
from operator import or_

from django.db import models
from django.db.models import Q
from django.urls import reverse

from fleet.models import Calibration, Component, Machine, Person
from fleet.photographs import digest_of_bytes
from inspections.attachments import FILE_KINDS
from inspections.errors import RecordFrozen
from inspections.models.findings import Finding
from inspections.models.inspections import Inspection
from inspections.models.notices import SafetyNotice
from inspections.models.procedures import ProcedureVersion
from inspections.models.querysets.attachments import AttachmentManager

SUBJECTS = ("machine", "component", "calibration", "finding", "inspection", "notice", "version")
LONGEST_TITLE = 120
LONGEST_REASON = 300
MOST_OF_ONE = 100  # files on one thing, those that were withdrawn included


def _of_one_thing():
    def only(subject):
        return Q(**{f"{one}__isnull": one != subject for one in SUBJECTS})

    return reduce(or_, (only(subject) for subject in SUBJECTS))


def _about(subject):
    model = {
        "machine": Machine, "component": Component, "calibration": Calibration, "finding": Finding,
        "inspection": Inspection, "notice": SafetyNotice, "version": ProcedureVersion,
    }[subject]  # fmt: skip
    return models.ForeignKey(model, models.PROTECT, null=True, blank=True, related_name="attachments")


class Attachment(models.Model):
    """A file on one thing. Its content is in the database, so that a backup holds it together with the row.

    digest           SHA-256 of `content`; the journal holds it, and verification compares the two
    received_digest  SHA-256 of the file as it was sent; another one for a photograph, which is stored clean
    A withdrawn one counts as evidence no longer; its file stays until a person removes it (removed_*).
    """

    machine = _about("machine")
    component = _about("component")
    calibration = _about("calibration")
    finding = _about("finding")
    inspection = _about("inspection")
    notice = _about("notice")
    version = _about("version")
    title = models.CharField(max_length=LONGEST_TITLE, help_text="What the file shows.")
    name = models.CharField("file name", max_length=120, blank=True, help_text="As it was sent.")
    kind = models.CharField(max_length=10, choices=[(one.code, one.title) for one in FILE_KINDS.values()])
    content = models.BinaryField(null=True)
    digest = models.CharField(max_length=64, help_text="SHA-256 of the content, in hexadecimal.")
    received_digest = models.CharField(max_length=64)
    octets = models.PositiveIntegerField("bytes")
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    at = models.DateTimeField()
    withdrawn_by = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_reason = models.CharField(max_length=LONGEST_REASON, blank=True)
    removed_by = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="+")
    removed_at = models.DateTimeField(null=True, blank=True)
    removed_reason = models.CharField(max_length=LONGEST_REASON, blank=True)

    objects = AttachmentManager()

    class Meta:
        ordering = ["pk"]
        verbose_name = "attached file"
        permissions = [("remove_attachment", "Can remove the content of attached files")]
        constraints = [
            models.CheckConstraint(condition=_of_one_thing(), name="attachment_of_one_thing"),
            models.CheckConstraint(
                condition=Q(removed_at=None, content__isnull=False)
                | (Q(removed_at__isnull=False, removed_by__isnull=False, content=None) & ~Q(removed_reason="")),
                name="attachment_until_removed",
            ),
            models.CheckConstraint(
                condition=Q(withdrawn_at=None)
                | (Q(withdrawn_at__isnull=False, withdrawn_by__isnull=False) & ~Q(withdrawn_reason="")),
                name="attachment_withdrawn_with_reason",
            ),
            *(
                models.UniqueConstraint(
                    fields=[subject, "digest"], condition=Q(withdrawn_at=None), name=f"attachment_once_per_{subject}"
                )
                for subject in SUBJECTS
            ),
        ]

    def __str__(self):
        return self.title or f"attached file {self.pk}"

    def save(self, *args, **kwargs):
        if not self._state.adding:
            raise RecordFrozen(f"The file “{self}” does not change. Withdraw it, and attach another one.")
        super().save(*args, **kwargs)

    def get_absolute_url(self):
        return reverse("inspections:attachment", args=[self.pk])

    @property
    def of(self):
        """The name of the column of its subject."""
        return next(one for one in SUBJECTS if getattr(self, f"{one}_id") is not None)

    @property
    def subject(self):
        return getattr(self, self.of)

    @property
    def site(self):
        """The site of what it is attached to; None for a procedure, and for a notice that is of no instrument."""
        of, subject = self.of, self.subject
        if of in ("version", "notice"):
            return None
        if of == "calibration":
            return subject.instrument.site
        return subject.site if of == "machine" else subject.machine.site

    @property
    def machine_concerned(self):
        """The machine that it is about; None for a calibration, a notice and a procedure."""
        of, subject = self.of, self.subject
        if of in ("calibration", "notice", "version"):
            return None
        return subject if of == "machine" else subject.machine

    @property
    def is_in_place(self):
        return self.withdrawn_at is None

    @property
    def has_content(self):
        return self.removed_at is None

    @property
    def file_kind(self):
        return FILE_KINDS[self.kind]

    @property
    def was_cleaned(self):
        """Whether the stored file is not the one that was sent, byte by byte."""
        return self.digest != self.received_digest

    @property
    def sent_as(self):
        """The name under which the file is sent out: that of its row, never a part of an address or a path."""
        stem = self.name.rpartition(".")[0] or self.name or "file"
        return f"{self.pk}-{_plain(stem)}.{self.file_kind.ending}"

    digest_of = staticmethod(digest_of_bytes)


def _plain(name):
    """Return a name of letters, digits and hyphens for any disk."""
    words = "".join(sign if sign.isascii() and (sign.isalnum() or sign in "-_") else "-" for sign in name)
    return "-".join(part for part in words.split("-") if part)[:60] or "file"
