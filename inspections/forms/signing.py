"""Sign, countersign and amend: each asks who you are, or why."""

from django import forms


class PasswordForm(forms.Form):
    """Asks the person who is logged in for the password again."""

    password = forms.CharField(
        label="Your password",
        help_text="Asked again, so that nobody signs in your place.",
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        strip=False,
    )

    def __init__(self, *args, person, **kwargs):
        super().__init__(*args, **kwargs)
        self.person = person

    def clean_password(self):
        password = self.cleaned_data["password"]
        if not self.person.check_password(password):
            raise forms.ValidationError("This is not the password of your account. Nothing was signed; try again.")
        return password


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
