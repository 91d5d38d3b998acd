"""Forms of one's own account."""

from django import forms
from django.contrib.auth.forms import PasswordChangeForm
from django_otp import match_token

from fleet.forms.passwords import PasswordForm, is_own_password


class CountedPasswordChangeForm(PasswordChangeForm):
    """Counts wrong old passwords towards a lockout, so that nobody can guess them at a tablet left signed in."""

    def __init__(self, *args, request, **kwargs):
        super().__init__(*args, **kwargs)
        self.request = request

    def clean_old_password(self):
        old = self.cleaned_data["old_password"]
        if not is_own_password(self.request, old):
            raise forms.ValidationError(self.error_messages["password_incorrect"], code="password_incorrect")
        return old


class CodeForm(forms.Form):
    """A code of six digits or, where recovery is possible, a recovery code."""

    code = forms.CharField(
        label="Code",
        max_length=16,
        help_text="Six digits from the app on your phone.",
        widget=forms.TextInput({"autocomplete": "one-time-code", "autocapitalize": "none", "spellcheck": "false"}),
    )

    def clean_code(self):
        return self.cleaned_data["code"].replace(" ", "").lower()


class RemoveSecondFactorForm(CodeForm, PasswordForm):
    """The password and a code of the factor. The code is tried only after the right password: it works once."""

    why = "Enter it again to confirm that it is you."
    field_order = ("password", "code")

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["code"].help_text = "Six digits from the app on your phone, or a recovery code."

    def clean(self):
        cleaned = super().clean()
        if "password" in cleaned and "code" in cleaned and not match_token(self.request.user, cleaned["code"]):
            self.add_error(
                "code", "This code is not accepted. Wait for the next code; after several attempts, wait longer."
            )
        return cleaned
