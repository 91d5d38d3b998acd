"""Whether a person gets the digest, and where."""

from django import forms

from fleet.models import Person


class DigestForm(forms.ModelForm):
    class Meta:
        model = Person
        fields = ("wants_digest", "email")

    def clean(self):
        if self.cleaned_data.get("wants_digest") and not self.cleaned_data.get("email"):
            self.add_error("email", "Enter the address to which the email is sent, or untick the box.")
