"""Triage of fault reports, and a new code for a label."""

from django import forms

from fleet.forms.filters import ListFilter, site_filter, text_filter
from inspections.models import FaultReport, Finding, Severity

OPEN, ADD, DISMISS = "open", "add", "dismiss"
MOST_OFFERED = 50


class FaultReportFilter(ListFilter):
    q = text_filter("Report or machine")
    site = site_filter("machine__area__site", "Every site")


class TriageForm(forms.Form):
    """What becomes of a report: a new finding, part of an open one, or dismissed with a reason."""

    what = forms.ChoiceField(
        label="What becomes of it",
        choices=[(OPEN, "Open a finding"), (ADD, "Add it to an open finding"), (DISMISS, "Dismiss it")],
        widget=forms.RadioSelect,
        initial=OPEN,
    )
    title = forms.CharField(label="What is wrong", max_length=200, required=False, help_text="Title of a new finding.")
    severity = forms.ChoiceField(
        choices=Severity.choices,
        widget=forms.RadioSelect,
        required=False,
        help_text="Of a new finding: your own judgement, not that of the reporter. If in doubt choose essential.",
    )
    others = forms.ModelMultipleChoiceField(
        FaultReport.objects.none(),
        label="Reports of the same fault",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="They become part of the same new finding.",
    )
    finding = forms.ModelChoiceField(
        Finding.objects.none(), label="Open finding", required=False, empty_label="Choose a finding"
    )
    reason = forms.CharField(
        label="Why it is dismissed", required=False, max_length=1000, widget=forms.Textarea({"rows": 3})
    )

    def __init__(self, *args, report, **kwargs):
        first_line = report.what.strip().splitlines()[0] if report.what.strip() else ""
        super().__init__(*args, initial={"what": OPEN, "title": first_line[:200]}, **kwargs)
        waiting = FaultReport.objects.waiting().filter(machine=report.machine).exclude(pk=report.pk)
        self.fields["others"].queryset = waiting
        self.fields["others"].label_from_instance = lambda one: f"{one.number}: {one.what[:80]}"
        self.fields["finding"].queryset = Finding.objects.open().filter(machine=report.machine)
        if not waiting.exists():
            del self.fields["others"]

    def clean(self):
        data = super().clean()
        needed = {OPEN: ("title", "severity"), ADD: ("finding",), DISMISS: ("reason",)}
        sentences = {
            "title": "State in a few words what is wrong.",
            "severity": "Choose how severe it is.",
            "finding": "Choose the finding that the report is about.",
            "reason": "State why the report is dismissed.",
        }
        for name in needed.get(data.get("what"), ()):
            if name not in self.errors and not data.get(name):
                self.add_error(name, sentences[name])
        return data


class ReplaceLabelForm(forms.Form):
    reason = forms.CharField(
        max_length=300,
        widget=forms.Textarea({"rows": 2}),
        help_text="Such as “label lost” or “label copied”. The code of the present label is dead from then on.",
        error_messages={"required": "State why the label gets a new code."},
    )
