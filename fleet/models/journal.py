"""The journal: one link for each action that wrote rows, with an entry for the state of each row afterwards."""

from django.db import models


class JournalLink(models.Model):
    """What one action wrote. `content` holds the digests of the link before and of its entries.

    The other columns repeat parts of the content for queries; verification compares them.
    """

    sequence = models.PositiveIntegerField(unique=True, help_text="Consecutive number of the link, from 1.")
    batch = models.BigIntegerField(unique=True, help_text="Identifies the entries of this link.")
    content = models.TextField()
    previous = models.CharField(max_length=64, help_text="Digest of the previous link; zeros for the first.")
    digest = models.CharField(max_length=64, help_text="SHA-256 of the content.")
    recorded_at = models.DateTimeField(help_text="Time of the server's clock.")

    class Meta:
        ordering = ["sequence"]

    def __str__(self):
        return f"Link {self.sequence} of the journal"


class JournalEntry(models.Model):
    """The state of one row after an action. `state` is a JSON list in the order of the layout, empty once removed.

    layout  a short name for the table's columns at that time, which the link lists
    """

    batch = models.BigIntegerField()
    position = models.PositiveIntegerField()
    table = models.CharField(max_length=60)
    row = models.BigIntegerField()
    layout = models.CharField(max_length=12)
    state = models.TextField(blank=True)

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "journal entries"
        constraints = [models.UniqueConstraint(fields=["batch", "position"], name="journal_entry_once")]
        indexes = [models.Index(fields=["table", "row", "id"], name="journal_by_row")]

    def __str__(self):
        return f"{self.table} {self.row}"


class JournalHead(models.Model):
    """The newest link. Its only row is locked while a link is added, so that no number is used twice."""

    sequence = models.PositiveIntegerField(default=0)
    digest = models.CharField(max_length=64)
    recorded_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self):
        return "Head of the journal"
