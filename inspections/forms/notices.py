"""Entering a notice and what it names, settling an item, opening work, closing; the filter of the list."""

from datetime import timedelta

import django_filters
from django import forms
from django.utils import timezone

from fleet.forms.fields import day_field
from fleet.forms.filters import ListFilter, text_filter
from fleet.models import MachineModel
from fleet.models.components import kind_choices
from inspections.models import NoticeCriterion, NoticeItem, Procedure, SafetyNotice, Severity
from inspections.notices.ranges import RangeRefused, read_listed

LONGEST = 20_000
LISTS = {"part_numbers": "part number", "serials": "serial number", "lots": "lot"}
What = NoticeCriterion.What
OF_SORT = {
    What.MACHINE: ("manufacturer", "model", "serials", "built_from", "built_to"),
    What.COMPONENT: ("kind", "manufacturer", "model", "part_numbers", "serials", "lots", "built_from", "built_to"),
    What.INSTRUMENT: ("name", "serials"),
}


class NoticeFilter(ListFilter):
    q = text_filter("Reference, title or publisher")
    state = django_filters.ChoiceFilter(
        label="State", choices=[("open", "Open"), ("closed", "Closed")], empty_label="Any", method="in_state"
    )

    def in_state(self, notices, name, state):
        return notices.open() if state == "open" else notices.closed()


class NoticeForm(forms.ModelForm):
    class Meta:
        model = SafetyNotice
        fields = ["published_by", "reference", "title", "published_on", "received_on", "answer_by", "asks",
                  "as_published"]  # fmt: skip

    published_on = day_field("Date of the notice")
    received_on = day_field("Received on")
    answer_by = day_field("To be done by", required=False, help_text="The last day that the notice gives, if any.")
    asks = forms.CharField(
        label="What is asked", required=False, max_length=4000, widget=forms.Textarea({"rows": 3}),
        help_text="In your words: what is to be done with each item, and what is to be answered.",
    )  # fmt: skip
    as_published = forms.CharField(
        label="Text as published", required=False, max_length=LONGEST, widget=forms.Textarea({"rows": 8})
    )

    def clean(self):
        cleaned = super().clean()
        published, received = cleaned.get("published_on"), cleaned.get("received_on")
        if published and received and received < published:
            self.add_error("received_on", f"A notice of {published} cannot have been received on {received}.")
        return cleaned


def _listed(label, example):
    return forms.CharField(
        label=label, required=False, max_length=LONGEST, widget=forms.Textarea({"rows": 3}),
        help_text=f"One entry a line, or with commas between: {example}. Leave empty if the notice does not say.",
    )  # fmt: skip


class CriterionForm(forms.Form):
    """One line of what a notice names; what is left empty is not asked for."""

    what = forms.ChoiceField(label="Names", choices=What.choices, widget=forms.RadioSelect, initial=What.COMPONENT)
    kind = forms.ChoiceField(
        label="Kind of component", required=False, choices=lambda: [("", "Of components only"), *kind_choices()]
    )
    manufacturer = forms.CharField(
        label="Manufacturer of the machine", required=False, max_length=80, help_text="As in the list of models."
    )
    model = forms.ModelChoiceField(
        MachineModel.objects.all(), label="Machine model", required=False, empty_label="Any model"
    )
    name = forms.CharField(
        label="Name of the instrument", required=False, max_length=100,
        help_text="Of instruments only: a part of the name is enough.",
    )  # fmt: skip
    part_numbers = _listed("Manufacturer's part numbers", "“77-1200, 77-1201”")
    serials = _listed("Serial numbers", "“A1200 to A1299”, “SN-0099..SN-0101”, “B77”, or “C12*” for all that begin so")
    lots = _listed("Lots", "“R-24*”, “L0310 to L0377”")
    built_from = forms.IntegerField(label="Machine built from", required=False, min_value=1900, max_value=2100)
    built_to = forms.IntegerField(label="Machine built until", required=False, min_value=1900, max_value=2100)

    def clean(self):
        cleaned = super().clean()
        sort = cleaned.get("what")
        if not sort:
            return cleaned
        for field in set(CriterionForm.base_fields) - {"what", *OF_SORT[sort]}:
            if cleaned.get(field):
                self.add_error(field, f"This does not apply to {What(sort).label.lower()}. Leave it empty.")
        self._check_lists(cleaned)
        self._check_what_is_named(sort, cleaned)
        first, last = cleaned.get("built_from"), cleaned.get("built_to")
        if first and last and first > last:
            self.add_error("built_to", f"{last} is before {first}. Enter the later year.")
        return cleaned

    def _check_lists(self, cleaned):
        for field, what in LISTS.items():
            try:
                read_listed(cleaned.get(field) or "", what)
            except RangeRefused as error:
                self.add_error(field, str(error))

    def _check_what_is_named(self, sort, cleaned):
        if sort == What.COMPONENT and not cleaned.get("kind"):
            self.add_error("kind", "Choose the kind of component that the notice names.")
        elif not any(cleaned.get(field) for field in OF_SORT[sort]):
            self.add_error(None, "This names everything. Enter at least one thing that the notice names.")


class CriterionWithdrawForm(forms.Form):
    """Why a notice does not name what was entered."""

    reason = forms.CharField(
        label="Why the notice does not name this", max_length=300, widget=forms.Textarea({"rows": 2}),
        help_text="Such as the page of the notice, or who confirmed it. It stands on the proof of completeness.",
    )  # fmt: skip


class CriterionCorrectForm(CriterionForm, CriterionWithdrawForm):
    """What the notice names instead, with why the earlier line was wrong."""


class SettleForm(forms.Form):
    state = forms.ChoiceField(label="What became of it", choices=NoticeItem.State.choices, widget=forms.RadioSelect)
    words = forms.CharField(
        label="What was done, what was found, or where it went", max_length=2000, widget=forms.Textarea({"rows": 3}),
        help_text="With the evidence: number of the paper, serial number read from the plate, place it was sent to.",
    )  # fmt: skip


class SettleManyForm(SettleForm):
    """The same words for several open items: those that are ticked, or all."""

    ticked = forms.ModelMultipleChoiceField(
        NoticeItem.objects.none(), required=False,
        error_messages={"invalid_choice": "One of the ticked items is not open any more. Tick again."},
    )  # fmt: skip
    all = forms.BooleanField(required=False)

    def __init__(self, *args, waiting, **kwargs):
        super().__init__(*args, **kwargs)
        self.waiting = waiting
        self.fields["state"].choices = [one for one in NoticeItem.State.choices if one[0] != NoticeItem.State.OPEN]
        self.fields["words"].help_text = "The same words are stored on each item, so they must be true of each."
        self.fields["ticked"].queryset = NoticeItem.objects.filter(pk__in=[item.pk for item in waiting])

    def clean(self):
        cleaned = super().clean()
        if not cleaned.get("all") and not cleaned.get("ticked") and "ticked" not in self.errors:
            self.add_error(None, "No item is ticked. Tick the items that this is true of, or settle all.")
        return cleaned

    @property
    def chosen(self):
        keys = {item.pk for item in self.cleaned_data["ticked"]}
        return [item for item in self.waiting if self.cleaned_data["all"] or item.pk in keys]


class WorkForm(forms.Form):
    """Opens a finding or plans an inspection, on one item or on all that have none."""

    FINDING, INSPECTION = "finding", "inspection"

    work = forms.ChoiceField(
        choices=[(FINDING, "Open a finding on the machine"), (INSPECTION, "Plan an inspection")],
        widget=forms.RadioSelect,
        initial=FINDING,
    )
    severity = forms.ChoiceField(
        label="Severity of the finding", choices=Severity.choices, widget=forms.RadioSelect,
        initial=Severity.ESSENTIAL,
        help_text="Essential if the notice says to stop using the device: somebody then decides about withdrawal.",
    )  # fmt: skip
    procedure = forms.ModelChoiceField(Procedure.objects.all(), required=False, empty_label="Choose a procedure")
    due_on = day_field("Due on", required=False)

    def __init__(self, *args, is_of_inspections=False, **kwargs):
        super().__init__(*args, **kwargs)
        self.is_of_inspections = is_of_inspections
        if is_of_inspections:
            self.fields["work"].choices = [(self.INSPECTION, "Repeat the inspection")]
            self.fields["work"].initial = self.INSPECTION
            self.fields["procedure"].empty_label = "Procedure of the inspection in doubt"

    def clean(self):
        cleaned = super().clean()
        if cleaned.get("work") != self.INSPECTION:
            return cleaned
        due_on, today = cleaned.get("due_on"), timezone.localdate()
        if not due_on or not today <= due_on <= today + timedelta(days=366):
            self.add_error("due_on", f"Enter a day from {today} to a year ahead.")
        if not cleaned.get("procedure") and not self.is_of_inspections:
            self.add_error("procedure", "Choose the procedure of the inspection.")
        return cleaned


class NoticeCloseForm(forms.Form):
    note = forms.CharField(
        label="How the notice was answered", max_length=4000, widget=forms.Textarea({"rows": 3}),
        help_text="To whom and when the reply was sent.",
    )  # fmt: skip
