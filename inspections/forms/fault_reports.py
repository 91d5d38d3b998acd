"""Triage of fault reports, and a new code for a label."""

from django import forms

from fleet.forms.filters import ListFilter, site_filter, text_filter
from inspections.models import FaultReport, Finding, Severity

OPEN, ADD, DISMISS = "open", "add", "dismiss"


class FaultReportFilter(ListFilter):
    q = text_filter("Report or machine")
    site = site_filter("machine__area__site", "Every site")


class TriageForm(forms.Form):
    """What becomes of a report: in a new finding, in an open one, or dismissed; only the fields of the choice count."""

    use_required_attribute = False
    OF_CHOICE = {OPEN: ("title", "severity", "others"), ADD: ("finding",), DISMISS: ("reason",)}

    what = forms.ChoiceField(
        label="How it is settled",
        choices=[(OPEN, "Open a finding"), (ADD, "Add it to an open finding"), (DISMISS, "Dismiss it")],
        widget=forms.RadioSelect,
        initial=OPEN,
    )
    title = forms.CharField(
        label="What is wrong",
        max_length=200,
        help_text="In a few words: the title of the finding.",
        error_messages={"required": "State in a few words what is wrong."},
    )
    severity = forms.ChoiceField(
        choices=Severity.choices,
        widget=forms.RadioSelect,
        help_text="Your own judgement, not that of the reporter. If in doubt choose essential: the public page then "
        "says DO NOT USE, and somebody decides about withdrawal from use.",
        error_messages={"required": "Choose how severe it is."},
    )
    others = forms.ModelMultipleChoiceField(
        FaultReport.objects.none(),
        label="Reports of the same fault",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="They become part of the same finding.",
    )
    finding = forms.ModelChoiceField(
        Finding.objects.none(),
        label="Which one",
        empty_label="Choose a finding",
        error_messages={"required": "Choose the finding that the report is about."},
    )
    reason = forms.CharField(
        label="Why it is dismissed",
        max_length=1000,
        widget=forms.Textarea({"rows": 3}),
        error_messages={"required": "State why the report is dismissed."},
    )

    def __init__(self, *args, report, **kwargs):
        first_line = report.what.strip().partition("\n")[0]
        super().__init__(*args, initial={"what": OPEN, "title": first_line[:200].strip()}, **kwargs)
        self.fields["others"].queryset = FaultReport.objects.waiting().filter(machine=report.machine).exclude(
            pk=report.pk
        )  # fmt: skip
        self.fields["others"].label_from_instance = lambda one: f"{one.number}: {one.what[:80]}"
        self.fields["finding"].queryset = Finding.objects.open().filter(machine=report.machine)

    @property
    def groups(self):
        """The heading of each choice with its fields, for the page."""
        headings = dict(self.fields["what"].choices)
        return [(headings[choice], [self[name] for name in names]) for choice, names in self.OF_CHOICE.items()]

    def clean(self):
        data = super().clean()
        chosen = self.OF_CHOICE.get(data.get("what"), ())
        for name in {*self.errors} - {"what", *chosen}:
            del self.errors[name]
        return data


class ReplaceLabelForm(forms.Form):
    reason = forms.CharField(
        max_length=300,
        widget=forms.Textarea({"rows": 2}),
        help_text="Such as “label lost” or “label copied”. The code of the present label is dead from then on.",
        error_messages={"required": "State why the label gets a new code."},
    )
