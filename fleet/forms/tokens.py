"""Requesting the token of a program, and confirming it."""

from datetime import timedelta

from django import forms
from django.contrib.auth.models import Group
from django.utils import timezone

from fleet.actions.tokens import LONGEST_LIFE
from fleet.forms.fields import day_field
from fleet.forms.passwords import PasswordForm
from fleet.models import ApiToken, Person
from fleet.models.querysets.tokens import owners_for


class ConfirmTokenForm(PasswordForm):
    why = "Enter it again, so that nobody else can let a program act with your rights."
    refused = "This is not the password of your account. The token is not confirmed; try again."


class TokenForm(forms.ModelForm):
    """A name, an owner, one of the owner's groups and a last day."""

    expires_on = day_field("Last day", help_text="The token is refused after this day. At most two years ahead.")

    class Meta:
        model = ApiToken
        fields = ["name", "owner", "group", "expires_on"]
        help_texts = {
            "owner": "The token works at this person's sites, and what it enters is recorded with both names. "
            "The person must confirm it.",
            "group": "The token has the rights of this group and no more. It cannot sign.",
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
                f"{day} cannot be the last day. Enter a day from {today} to {today + LONGEST_LIFE}."
            )
        return day

    def clean(self):
        cleaned = super().clean()
        owner, group = cleaned.get("owner"), cleaned.get("group")
        if owner and group and not owner.groups.filter(pk=group.pk).exists():
            self.add_error("group", f"{owner} is not in the group {group}. Choose one of the owner's groups.")
        return cleaned
