"""Sign, countersign and amend: each asks who you are, or why."""

from django import forms

from fleet.forms.passwords import PasswordForm


class SignatureForm(PasswordForm):
    """Asks the person who is logged in for the password again; wrong ones count towards a lockout as at the login."""

    why = "Asked again, so that nobody signs in your place."
    refused = "This is not the password of your account. Nothing was signed; try again."


class AmendForm(forms.Form):
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
    reason = forms.CharField(label="Reason", max_length=300, help_text="How the mistake came about or was found.")

    def __init__(self, *args, inspection, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["step"].queryset = inspection.steps.that_apply()
