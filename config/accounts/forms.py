"""Forms of one's own account."""

from django import forms
from django.contrib.auth.forms import PasswordChangeForm

from fleet.forms.passwords import is_own_password


class CountedPasswordChangeForm(PasswordChangeForm):
    """Wrong old passwords count towards a lockout, so that a tablet left signed in is no place to guess at."""

    def __init__(self, *args, request, **kwargs):
        super().__init__(*args, **kwargs)
        self.request = request

    def clean_old_password(self):
        old = self.cleaned_data["old_password"]
        if not is_own_password(self.request, old):
            raise forms.ValidationError(self.error_messages["password_incorrect"], code="password_incorrect")
        return old


class CodeForm(forms.Form):
    """A code of six digits, or where recovery is possible a recovery code."""

    code = forms.CharField(
        label="Code",
        max_length=16,
        help_text="Six digits from the app on your phone.",
        widget=forms.TextInput({"autocomplete": "one-time-code", "autocapitalize": "none", "spellcheck": "false"}),
    )

    def clean_code(self):
        return self.cleaned_data["code"].replace(" ", "").lower()
