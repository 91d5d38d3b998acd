"""Sign, countersign, amend, release: each asks who you are, and for a decision why."""

from django import forms

from fleet.forms.passwords import PasswordForm

REASON_LENGTH = 200  # leaves room in the record for who proposed and who confirmed


class SignatureForm(PasswordForm):
    """Asks the person who is logged in for the password again; wrong ones count towards a lockout as at the login."""

    why = "Asked again, so that nobody signs in your place."
    refused = "This is not the password of your account. Nothing was signed; try again."


class DecisionForm(PasswordForm):
    """A reason, and the password of the person who decides. The reason stays in the form after a wrong password."""

    reason = forms.CharField(
        label="Reason",
        max_length=REASON_LENGTH,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="What a colleague will read years from now. At most 200 characters.",
        error_messages={"required": "Say why, in a sentence. The reason is kept with the decision."},
    )

    field_order = ["reason", "password"]


class ReleaseForm(DecisionForm):
    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["reason"].help_text = "What was put right, and why the machine can be used again."


class AmendForm(DecisionForm):
    step = forms.ModelChoiceField(
        None,
        label="Step",
        required=False,
        empty_label="The whole record",
        help_text="Which step the correction is about.",
    )
    correction = forms.CharField(
        label="Correction",
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="What should be read instead of what. The record itself does not change.",
    )

    field_order = ["step", "correction", "reason", "password"]

    def __init__(self, *args, inspection, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["step"].queryset = inspection.steps.that_apply()
        self.fields["reason"].help_text = "How the mistake came about or was found. At most 200 characters."


class ProposalForm(PasswordForm):
    """The second person's password; a reason where the proposal is declined."""

    reason = forms.CharField(
        label="Reason for declining",
        required=False,
        max_length=REASON_LENGTH,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Needed to decline. Who proposed it reads it.",
    )
    field_order = ["reason", "password"]
