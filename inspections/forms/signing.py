"""Sign, countersign, amend, release: each asks who you are, and for a decision why."""

from django import forms
from django.utils import timezone

from fleet.days import long_date
from fleet.forms.passwords import PasswordForm
from inspections.models.inspections import MOST_MINUTES

REASON_LENGTH = 200  # leaves room in the record for who proposed and who confirmed


class SignatureForm(PasswordForm):
    """Asks the person who is logged in for the password again; wrong ones count towards a lockout as at the login."""

    why = "Enter it again, so that nobody else can sign in your name."
    refused = "This is not the password of your account. Nothing was signed; try again."


class SigningForm(SignatureForm):
    """Asks for the minutes of work as well; empty where nobody can say."""

    minutes = forms.IntegerField(
        label="Minutes of work",
        required=False,
        min_value=1,
        max_value=MOST_MINUTES,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
        error_messages=dict.fromkeys(
            ("invalid", "min_value", "max_value"),
            f"Accepted: a whole number of minutes from 1 to {MOST_MINUTES:,} (24 hours), or nothing.",
        ),
    )
    field_order = ["minutes", "password"]

    def __init__(self, *args, proposed, **kwargs):
        """proposed  ProposedMinutes"""
        super().__init__(*args, initial={"minutes": proposed.minutes}, **kwargs)
        self.fields["minutes"].help_text = proposal_in_words(proposed)


def proposal_in_words(proposed):
    """How the minutes were proposed, in the time zone that is shown now."""
    start, end = timezone.localtime(proposed.start), timezone.localtime(proposed.end)
    until = f"{end:%H:%M}" if start.date() == end.date() else f"{long_date(end)}, {end:%H:%M}"
    breaks = f", without {proposed.left_out:,} minutes in breaks" if proposed.left_out else ""
    return (
        f"Proposed {proposed.minutes:,}, from the start at {start:%H:%M} to the last entry at {until}{breaks}. A "
        "time of more than 30 minutes without an entry counts as a break. Correct it if it was otherwise."
    )


class DecisionForm(PasswordForm):
    """A reason, and the password of the person who decides. The reason stays in the form after a wrong password."""

    reason = forms.CharField(
        label="Reason",
        max_length=REASON_LENGTH,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="It must be clear to a colleague years from now. At most 200 characters.",
        error_messages={"required": "Give a reason in one sentence. It is saved with the decision."},
    )

    field_order = ["reason", "password"]


class ReleaseForm(DecisionForm):
    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["reason"].help_text = "What was corrected, and why the machine can be used again."


class AmendForm(DecisionForm):
    step = forms.ModelChoiceField(
        None,
        label="Step",
        required=False,
        empty_label="The whole record",
        help_text="The step to be corrected.",
    )
    correction = forms.CharField(
        label="Correction",
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="The wrong value or text and the correct one. The record itself does not change.",
    )

    field_order = ["step", "correction", "reason", "password"]

    def __init__(self, *args, inspection, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["step"].queryset = inspection.steps.that_apply()
        self.fields["reason"].help_text = "How the mistake happened or was found. At most 200 characters."


class ProposalForm(PasswordForm):
    """The second person's password; a reason where the proposal is declined."""

    reason = forms.CharField(
        label="Reason for declining",
        required=False,
        max_length=REASON_LENGTH,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Required to decline. The person who made the proposal can read it.",
    )
    field_order = ["reason", "password"]
