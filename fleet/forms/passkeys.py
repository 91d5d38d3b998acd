"""Registering a passkey and naming it."""

from django import forms

from fleet.forms.passwords import PasswordForm
from fleet.people.passkeys import ANSWER


class PasskeyNameForm(forms.Form):
    name = forms.CharField(
        label="Name", max_length=60, help_text="The device that holds it, such as “Tablet of workshop 2”."
    )


class PasskeyForm(PasswordForm, PasskeyNameForm):
    """A name and the password itself: a passkey that was left behind unlocked cannot bring another one in."""

    why = "Enter it once more. From then on the passkey can take its place."
    takes_passkey = False
    field_order = ["name", "password"]

    def clean(self):
        cleaned = super().clean()
        if not self.data.get(ANSWER):
            self.add_error(
                None, "This browser did not send a passkey. It needs scripts, and a device that can hold passkeys."
            )
        return cleaned
