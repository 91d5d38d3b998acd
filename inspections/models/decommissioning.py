"""The end of a machine: what was done with it before it left, by whom, with what proof."""

from django.db import models
from django.db.models import Q

from fleet.models import Machine, Person
from inspections.decommissioning.checklist import ITEMS, ROUTES
from inspections.models.attachments import Attachment
from inspections.models.querysets.decommissioning import DecommissioningAnswerQuerySet

LONGEST_WORDS = 600


class DecommissioningAnswer(models.Model):
    """The answer to one item of the checklist (inspections/decommissioning/items.toml). A missing row is an open item.

    An answer can be corrected; the changes of the machine hold what it said before.
    """

    class State(models.TextChoices):
        DONE = "done", "Done"
        NOT_APPLICABLE = "does not apply", "Does not apply"

    machine = models.ForeignKey(Machine, models.PROTECT, related_name="decommissioning_answers")
    code = models.SlugField("item", max_length=40, db_index=False)
    state = models.CharField("answer", max_length=20, choices=State)
    route = models.SlugField(max_length=20, blank=True, db_index=False)
    words = models.CharField("remark", max_length=LONGEST_WORDS, blank=True)
    proof = models.ForeignKey(Attachment, models.PROTECT, null=True, blank=True, related_name="proves")
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    objects = DecommissioningAnswerQuerySet.as_manager()

    class Meta:
        ordering = ["machine", "pk"]
        verbose_name = "item of the decommissioning"
        constraints = [
            models.UniqueConstraint(fields=["machine", "code"], name="decommissioning_item_once"),
            models.CheckConstraint(
                condition=~Q(state="does not apply") | ~Q(words=""), name="decommissioning_not_applicable_because"
            ),
        ]

    def __str__(self):
        return self.title

    @property
    def title(self):
        """The title of the item; its code if the list no longer has it."""
        item = ITEMS.get(self.code)
        return item.title if item else self.code

    @property
    def route_words(self):
        return ROUTES.get(self.route, self.route)
