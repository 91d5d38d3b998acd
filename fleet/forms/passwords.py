"""Ask a person who is signed in for the password again."""

from django import forms
from django.contrib.auth import authenticate

from fleet.people.lockout import forget_wrong_signings


class PasswordForm(forms.Form):
    """The password of the person who sends the request. Wrong ones are counted separately from those at the login."""

    why = "Enter it again to confirm that it is you."
    refused = "This is not the password of your account. Nothing was changed; try again."

    password = forms.CharField(
        label="Your password",
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        strip=False,
    )

    def __init__(self, *args, request, **kwargs):
        super().__init__(*args, **kwargs)
        self.request = request
        self.fields["password"].help_text = self.why

    def clean_password(self):
        password = self.cleaned_data["password"]
        if not is_own_password(self.request, password):
            raise forms.ValidationError(self.refused)
        return password


def is_own_password(request, password):
    """Return whether it is the password of whoever sent the request. Each call counts, so call it once for a form."""
    username = request.user.get_username()
    request.asks_again = True
    person = authenticate(request, username=username, password=password)
    if person is None or person.pk != request.user.pk:
        return False
    forget_wrong_signings(username)
    return True
