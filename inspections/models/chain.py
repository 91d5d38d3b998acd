"""The chain of a site: every signature, countersignature and amendment, each bound to the one before it."""

from django.db import models
from django.db.models import Q

from fleet.models import Site
from inspections.errors import RecordFrozen
from inspections.models.inspections import Inspection
from inspections.models.packed_text import PackedTextField
from inspections.models.records import Amendment


class EntryKind(models.TextChoices):
    SIGNED = "signed", "Signature"
    COUNTERSIGNED = "countersigned", "Countersignature"
    AMENDED = "amended", "Amendment"


class ChainEntry(models.Model):
    """One entry. `content` says all that it proves, with its number and the digest of the entry before it.

    The columns beside it repeat parts of the content for queries; verification compares them.
    """

    site = models.ForeignKey(Site, models.PROTECT, related_name="chain_entries")
    sequence = models.PositiveIntegerField(help_text="Counts the entries of the site from 1, without a gap.")
    kind = models.CharField(max_length=14, choices=EntryKind)
    inspection = models.ForeignKey(Inspection, models.PROTECT, related_name="chain_entries")
    amendment = models.OneToOneField(Amendment, models.PROTECT, null=True, related_name="chain_entry")
    content = PackedTextField()
    previous = models.CharField(max_length=64, help_text="Digest of the entry before this one; zeros for the first.")
    digest = models.CharField(max_length=64, unique=True, help_text="SHA-256 of the content.")
    at = models.DateTimeField()

    class Meta:
        ordering = ["site", "sequence"]
        verbose_name_plural = "chain entries"
        constraints = [
            models.UniqueConstraint(fields=["site", "sequence"], name="chain_entry_once"),
            models.UniqueConstraint(
                fields=["inspection", "kind"], condition=~Q(kind="amended"), name="chain_entry_once_per_signature"
            ),
        ]

    def __str__(self):
        return f"Entry {self.sequence} of the chain of {self.site}"

    def save(self, *args, **kwargs):
        if not self._state.adding:
            raise RecordFrozen(f"{self} cannot be changed.")
        super().save(*args, **kwargs)


class ChainHead(models.Model):
    """The newest entry of a site; its row is locked while an entry is added, so that no number is given twice."""

    site = models.OneToOneField(Site, models.PROTECT, related_name="chain_head")
    sequence = models.PositiveIntegerField(default=0)
    digest = models.CharField(max_length=64)
    at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["site"]

    def __str__(self):
        return f"Head of the chain of {self.site}"
