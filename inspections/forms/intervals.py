"""The dossier of an interval: drafting, proposing and discarding one."""

from django import forms
from django.utils import timezone

from fleet.forms.fields import NumberField, day_field
from fleet.models import MachineModel
from inspections.forms.signing import REASON_LENGTH, DecisionForm
from inspections.models import IntervalDossier, Procedure
from inspections.models.planning_rules import MOST_MONTHS, MOST_WINDOW
from inspections.schedule.interval_data import Asked

STATES = [("", "In force and drafts"), ("all", "Withdrawn and ended ones as well")]


class DossierFilter(forms.Form):
    procedure = forms.ModelChoiceField(Procedure.objects.all(), required=False, empty_label="Every procedure")
    view = forms.ChoiceField(label="Show", required=False, choices=STATES)


class DossierForm(forms.Form):
    procedure = forms.ModelChoiceField(Procedure.objects.all(), empty_label="Choose a procedure")
    machine_model = forms.ModelChoiceField(
        MachineModel.objects.all(), label="Machine model", required=False, empty_label="Every machine model"
    )
    interval_months = forms.IntegerField(label="Every (months)", min_value=1, max_value=MOST_MONTHS)
    window_days = forms.IntegerField(
        label="On time within", min_value=0, max_value=MOST_WINDOW, help_text="Days either side of the due date."
    )
    data_from = day_field("Records from")
    as_of = day_field("Records to")
    most_percent = NumberField(
        label="At most (% of the time)", help_text="The most that the upper bound of the share of time with a standing "
        "hidden failure may be. Not more than the policy of the procedure's class allows.",
    )  # fmt: skip
    reason = forms.CharField(max_length=REASON_LENGTH, widget=forms.Textarea(attrs={"rows": 2}))

    @property
    def asked(self):
        data = self.cleaned_data
        return Asked(
            data["procedure"], data["machine_model"], data["interval_months"], data["window_days"], data["data_from"],
            data["as_of"],
        )  # fmt: skip


class ApproveIntervalForm(DecisionForm):
    """Proposes a dossier for approval, with the day from which its interval is to be in force."""

    from_date = day_field("In force from")
    field_order = ["from_date", "reason", "password"]

    def clean_from_date(self):
        from_date, today = self.cleaned_data["from_date"], timezone.localdate()
        if from_date < today:
            raise forms.ValidationError(f"{from_date} is in the past. Enter today, {today}, or a later day.")
        return from_date


class PolicyForm(DecisionForm):
    """Proposes what a class of procedures may leave open; shares in per cent."""

    most_percent = NumberField(
        label="At most (% of the time)", help_text="The share of the time between two inspections during which a "
        "hidden failure stands, at the upper bound of its rate.",
    )  # fmt: skip
    confidence_percent = NumberField(label="Confidence of that bound (%)", help_text="One-sided, such as 95.")
    source = forms.CharField(max_length=200, help_text="The paper or the meeting that decided it, with its date.")
    field_order = ["most_percent", "confidence_percent", "source", "reason", "password"]

    def __init__(self, *args, policy, **kwargs):
        initial = {
            "most_percent": round(100 * policy.most_share, 6), "confidence_percent": round(100 * policy.confidence, 6),
        }  # fmt: skip
        super().__init__(*args, initial=initial, **kwargs)

    @property
    def asked(self):
        data = self.cleaned_data
        return {
            "most_share": round(float(data["most_percent"]) / 100, 8),
            "confidence": round(float(data["confidence_percent"]) / 100, 8), "source": data["source"].strip(),
        }  # fmt: skip


class DiscardForm(forms.Form):
    reason = forms.CharField(max_length=REASON_LENGTH, help_text="Why the draft is not used.")


def listed_dossiers(asked):
    """Return the dossiers that the list asks for."""
    rows = IntervalDossier.objects.with_scope()
    rows = rows if asked["view"] else rows.filter(state__in=("draft", "in force"))
    return rows.filter(procedure=asked["procedure"]) if asked["procedure"] else rows
