"""Requesting the token of a program, and confirming it."""

from datetime import timedelta

from django import forms
from django.contrib.auth.models import Group
from django.utils import timezone

from fleet.actions.tokens import LONGEST_LIFE
from fleet.forms.fields import day_field
from fleet.forms.passwords import PasswordForm
from fleet.models import ApiToken, Person
from fleet.token_querysets import owners_for


class ConfirmTokenForm(PasswordForm):
    why = "Asked again, so that nobody makes a program act with your rights."
    refused = "This is not the password of your account. The token is not confirmed; try again."


class TokenForm(forms.ModelForm):
    """A name, an owner, one of the owner's groups and a last day."""

    expires_on = day_field("Last day", help_text="The token is refused after it. At most two years ahead.")

    class Meta:
        model = ApiToken
        fields = ["name", "owner", "group", "expires_on"]
        help_texts = {
            "owner": "The token has this person's sites, and what it enters names both. The person must confirm it.",
            "group": "The token may do what this group may, and no more. It never signs.",
        }

    def __init__(self, *args, person, **kwargs):
        today = timezone.localdate()
        kwargs["initial"] = {"expires_on": today + timedelta(days=365), **kwargs.get("initial", {})}
        super().__init__(*args, **kwargs)
        self.fields["owner"].queryset = owners_for(person) if person else Person.objects.none()
        self.fields["group"].queryset = Group.objects.order_by("name")

    def clean_expires_on(self):
        day, today = self.cleaned_data["expires_on"], timezone.localdate()
        if not today <= day <= today + LONGEST_LIFE:
            raise forms.ValidationError(
                f"{day} cannot be the last day. Give one from {today} to {today + LONGEST_LIFE}."
            )
        return day

    def clean(self):
        cleaned = super().clean()
        owner, group = cleaned.get("owner"), cleaned.get("group")
        if owner and group and not owner.groups.filter(pk=group.pk).exists():
            self.add_error("group", f"{owner} is not in the group {group}. Choose one of the owner's groups.")
        return cleaned
