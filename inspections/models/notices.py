"""Safety notices and recalls: what they name, and each item that is or was concerned, until it is settled."""

from django.db import models
from django.db.models import F, Q

from fleet.models import Calibration, Component, Instrument, Machine, MachineModel, Person
from fleet.models.components import kind_choices
from fleet.models.machines import YEAR
from fleet.web.key_addresses import key_address
from inspections.models.findings import Finding
from inspections.models.inspections import Inspection
from inspections.models.querysets.notices import NoticeCriterionQuerySet, NoticeItemQuerySet, SafetyNoticeQuerySet
from inspections.notices.criteria import Criterion
from inspections.notices.ranges import read_listed


class SafetyNotice(models.Model):
    """A notice as it was published. `looked_*` say how many were looked at when its items were last searched.

    One about an instrument that was found in error names its calibration; its items are signed inspections.
    """

    published_by = models.CharField(max_length=120, help_text="The manufacturer or authority.")
    reference = models.CharField(max_length=80)
    title = models.CharField(max_length=200)
    published_on = models.DateField("date of the notice")
    received_on = models.DateField("received on")
    answer_by = models.DateField("to be done by", null=True, blank=True)
    asks = models.TextField("what is asked", blank=True)
    as_published = models.TextField("text as published", blank=True)
    calibration = models.OneToOneField(Calibration, models.PROTECT, null=True, blank=True, related_name="notice")
    entered_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    entered_at = models.DateTimeField()
    looked_at = models.DateTimeField(null=True, editable=False)
    looked_machines = models.PositiveIntegerField(default=0, editable=False)
    looked_components = models.PositiveIntegerField(default=0, editable=False)
    looked_instruments = models.PositiveIntegerField(default=0, editable=False)
    looked_inspections = models.PositiveIntegerField(default=0, editable=False)
    closed_by = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True, editable=False)
    closing_note = models.TextField(blank=True)

    objects = SafetyNoticeQuerySet.as_manager()

    class Meta:
        ordering = ["-received_on", "-pk"]
        verbose_name = "safety notice"
        constraints = [
            models.UniqueConstraint(fields=["published_by", "reference"], name="notice_once"),
            models.CheckConstraint(
                condition=Q(closed_at__isnull=True) | ~Q(closing_note=""), name="notice_closed_with_note"
            ),
        ]

    def __str__(self):
        return f"{self.published_by} {self.reference}"

    def get_absolute_url(self):
        return key_address("inspections:notice", self.pk)

    @property
    def is_open(self):
        return self.closed_at is None


class NoticeCriterion(models.Model):
    """One line of what a notice names. All that is given must hold; one line that is met is enough.

    One that was withdrawn stays stored, and is searched for no more.
    """

    class What(models.TextChoices):
        MACHINE = "machine", "Machines"
        COMPONENT = "component", "Components"
        INSTRUMENT = "instrument", "Instruments"

    notice = models.ForeignKey(SafetyNotice, models.PROTECT, related_name="criteria")
    what = models.CharField("names", max_length=12, choices=What)
    kind = models.SlugField("kind of component", max_length=40, blank=True, choices=kind_choices, db_index=False)
    manufacturer = models.CharField("manufacturer of the machine", max_length=80, blank=True)
    model = models.ForeignKey(
        MachineModel, models.PROTECT, null=True, blank=True, related_name="+", verbose_name="machine model"
    )
    name = models.CharField("name of the instrument contains", max_length=100, blank=True)
    part_numbers = models.TextField("manufacturer's part numbers", blank=True)
    serials = models.TextField("serial numbers", blank=True)
    lots = models.TextField(blank=True)
    built_from = models.PositiveSmallIntegerField("machine built from", validators=YEAR, null=True, blank=True)
    built_to = models.PositiveSmallIntegerField("machine built until", validators=YEAR, null=True, blank=True)
    added_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    added_at = models.DateTimeField()
    withdrawn_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, editable=False)
    withdrawn_reason = models.CharField("reason for the withdrawal", max_length=300, blank=True, editable=False)

    objects = NoticeCriterionQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        verbose_name = "criterion"
        verbose_name_plural = "criteria"
        constraints = [
            models.CheckConstraint(
                condition=Q(withdrawn_at=None, withdrawn_reason="")
                | (Q(withdrawn_at__isnull=False) & ~Q(withdrawn_reason="")),
                name="criterion_withdrawn_with_reason",
            ),
            models.CheckConstraint(
                condition=Q(built_from__isnull=True) | Q(built_to__isnull=True) | Q(built_to__gte=F("built_from")),
                name="criterion_years_in_order",
            ),
        ]

    def __str__(self):
        return "; ".join([self.get_what_display(), *(f"{label} {words}" for label, words in self.lines)])

    @property
    def lines(self):
        """Return what is given, as label and words."""
        given = (
            ("of kind", self.get_kind_display() if self.kind else ""),
            ("of manufacturer", self.manufacturer),
            ("of model", str(self.model) if self.model_id else ""),
            ("with a name that contains", self.name),
            ("part numbers", _in_one_line(self.part_numbers)),
            ("serial numbers", _in_one_line(self.serials)),
            ("lots", _in_one_line(self.lots)),
            ("built from", self.built_from),
            ("built until", self.built_to),
        )
        return [(label, words) for label, words in given if words]

    @property
    def as_criterion(self):
        """Return what decides in plain Python. Raise RangeRefused for a list that cannot be read."""
        return Criterion(
            self.kind, self.name, self.manufacturer, self.model_id,
            read_listed(self.part_numbers, "part number"), read_listed(self.serials, "serial number"),
            read_listed(self.lots, "lot"), self.built_from, self.built_to,
        )  # fmt: skip


class NoticeItem(models.Model):
    """A machine, component, instrument or signed inspection that a notice concerns. Once found it is never removed.

    `machine` is that of a component or inspection too; a component may have been removed from it since.
    """

    class Match(models.TextChoices):
        CONCERNED = "concerned", "Concerned"
        UNDECIDED = "cannot be decided", "Cannot be decided"
        CHANGED = "changed", "Not concerned by what is recorded now"

    class State(models.TextChoices):
        OPEN = "open", "Open"
        DONE = "done", "Done"
        NOT_CONCERNED = "not concerned", "Not concerned, after looking at it"
        GONE = "gone", "Gone"
        NOT_NAMED = "not named", "No longer concerned"

    notice = models.ForeignKey(SafetyNotice, models.PROTECT, related_name="items")
    machine = models.ForeignKey(Machine, models.PROTECT, null=True, blank=True, related_name="notice_items")
    component = models.ForeignKey(Component, models.PROTECT, null=True, blank=True, related_name="notice_items")
    instrument = models.ForeignKey(Instrument, models.PROTECT, null=True, blank=True, related_name="notice_items")
    inspection = models.ForeignKey(Inspection, models.PROTECT, null=True, blank=True, related_name="notice_items")
    match = models.CharField("answer", max_length=20, choices=Match)
    reason = models.TextField(blank=True)
    found_at = models.DateTimeField()
    state = models.CharField(max_length=14, choices=State, default=State.OPEN, editable=False)
    words = models.TextField("what was done or found, or where it went", blank=True)
    settled_by = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="+")
    settled_at = models.DateTimeField(null=True, blank=True)
    finding = models.ForeignKey(Finding, models.PROTECT, null=True, blank=True, related_name="notice_items")
    planned = models.ForeignKey(Inspection, models.PROTECT, null=True, blank=True, related_name="+")

    objects = NoticeItemQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        verbose_name = "item of a notice"
        verbose_name_plural = "items of notices"
        constraints = [
            models.UniqueConstraint(
                fields=["notice", "machine"],
                condition=Q(component=None, inspection=None),
                name="notice_item_once_per_machine",
            ),
            models.UniqueConstraint(fields=["notice", "component"], name="notice_item_once_per_component"),
            models.UniqueConstraint(fields=["notice", "instrument"], name="notice_item_once_per_instrument"),
            models.UniqueConstraint(fields=["notice", "inspection"], name="notice_item_once_per_inspection"),
            models.CheckConstraint(
                condition=Q(machine__isnull=False, instrument__isnull=True)
                | Q(instrument__isnull=False, machine__isnull=True, component__isnull=True, inspection__isnull=True),
                name="notice_item_is_one_thing",
            ),
            models.CheckConstraint(
                condition=Q(state="open") | (Q(settled_at__isnull=False) & ~Q(words="")),
                name="notice_item_settled_with_words",
            ),
        ]

    def __str__(self):
        if self.inspection_id:
            return f"{self.inspection} of machine {self.machine}"
        return (
            f"{self.component} of machine {self.machine}" if self.component_id else str(self.machine or self.instrument)
        )

    def get_absolute_url(self):
        return key_address("inspections:notice_item", self.pk)

    @property
    def is_open(self):
        return self.state == self.State.OPEN

    @property
    def site(self):
        return self.machine.site if self.machine_id else self.instrument.site

    @property
    def key(self):
        """Return which thing it is, as `found_items` names them."""
        if self.inspection_id:
            return "inspection", self.inspection_id
        if self.component_id:
            return "component", self.component_id
        return ("machine", self.machine_id) if self.machine_id else ("instrument", self.instrument_id)

    @property
    def plate(self):
        """Return the component, machine or instrument whose serial number and lot count."""
        return self.component or self.machine or self.instrument

    @property
    def has_work(self):
        return bool(self.finding_id or self.planned_id)

    @property
    def may_have_work(self):
        """Whether work can be opened on it: a machine that is not retired, with the component still in place."""
        is_there = self.machine_id and self.machine.status != "retired"
        return bool(is_there and not (self.component_id and self.component.removed_on))

    @property
    def standing(self):
        """Return what is no longer as it was, in words: removed, retired; empty for what is in place."""
        words = []
        if self.component_id and self.component.removed_on:
            words.append(f"removed on {self.component.removed_on.isoformat()}")
        if self.machine_id and self.machine.status == "retired":
            words.append("machine retired")
        if self.instrument_id and self.instrument.is_retired:
            words.append("instrument retired")
        return ", ".join(words)


def _in_one_line(text):
    return ", ".join(line.strip(" ,") for line in text.splitlines() if line.strip())
