"""Whether a person gets the digest, and where."""

from django import forms

from fleet.models import Person


class DigestForm(forms.ModelForm):
    class Meta:
        model = Person
        fields = ("wants_digest", "email")

    def clean(self):
        if self.cleaned_data.get("wants_digest") and not self.cleaned_data.get("email"):
            self.add_error("email", "Give the address that the digest is sent to, or take the tick away.")
