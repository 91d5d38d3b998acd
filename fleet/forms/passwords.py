"""Ask a person who is signed in for the password again, or for a passkey in its place."""

from django import forms
from django.contrib.auth import authenticate
from django.urls import reverse

from fleet.people.lockout import forget_wrong_signings
from fleet.people.passkeys import ANSWER, may_use

PASSWORD, PASSKEY = "password", "passkey"


class PasswordForm(forms.Form):
    """The password of the person who sends the request. Wrong ones are counted separately from those at the login.

    Where the field is left empty and the form carries the answer of a passkey, that is checked instead; refused ones
    are counted alike. `confirmed_with` says which of the two it was.
    """

    why = "Enter it again to confirm that it is you."
    refused = "This is not the password of your account. Nothing was changed; try again."
    refused_passkey = "The passkey was not accepted. Nothing was changed; try again, or enter your password."
    takes_passkey = True
    confirmed_with = ""

    password = forms.CharField(
        label="Your password",
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        strip=False,
    )

    def __init__(self, *args, request, **kwargs):
        super().__init__(*args, **kwargs)
        self.request, field = request, self.fields["password"]
        field.help_text = self.why
        if self.takes_passkey and may_use(request):
            field.help_text = f"{self.why} Or leave it empty to use your passkey."
            field.widget.attrs["data-passkey"] = reverse("fleet:passkey_options")

    def full_clean(self):
        self.fields["password"].required = not self._answer
        super().full_clean()
        self.fields["password"].required = True

    def clean_password(self):
        password = self.cleaned_data["password"]
        if not password:
            return self._clean_passkey()
        if not is_own_password(self.request, password):
            raise forms.ValidationError(self.refused)
        self.confirmed_with = PASSWORD
        return password

    def _clean_passkey(self):
        if not is_own_passkey(self.request, self._answer):
            raise forms.ValidationError(self.refused_passkey)
        self.confirmed_with = PASSKEY
        return ""

    @property
    def _answer(self):
        """What a passkey answered; empty where the form takes none."""
        return self.data.get(ANSWER, "") if self.is_bound and self.takes_passkey else ""


def is_own_password(request, password):
    """Return whether it is the password of whoever sent the request. Each call counts, so call it once for a form."""
    return _is_own(request, password=password)


def is_own_passkey(request, answer):
    """Return whether a passkey of whoever sent the request signed the form that was sent. Each call counts."""
    return _is_own(request, passkey=answer)


def _is_own(request, **credentials):
    username = request.user.get_username()
    request.asks_again = True
    person = authenticate(request, username=username, **credentials)
    if person is None or person.pk != request.user.pk:
        return False
    forget_wrong_signings(username)
    return True
