"""Sign, countersign, amend, release: each asks who you are, and for a decision why."""

from django import forms

from fleet.forms.passwords import PasswordForm

REASON_LENGTH = 200  # leaves room in the record for who proposed and who confirmed


class SignatureForm(PasswordForm):
    """Asks the person who is logged in for the password again; wrong ones count towards a lockout as at the login."""

    why = "Enter it again, so that nobody else can sign in your name."
    refused = "This is not the password of your account. Nothing was signed; try again."


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
