"""Accounts: who, what they may do, and where."""

import django_filters
from django import forms
from django.contrib.auth.models import Group

from fleet.forms.filters import ListFilter, text_filter
from fleet.models import Person, Site


class PersonFilter(ListFilter):
    q = text_filter(autocomplete=False)
    group = django_filters.ModelChoiceFilter(
        "groups", label="Group", queryset=Group.objects.order_by("name"), empty_label="Any"
    )


class PersonForm(forms.ModelForm):
    """Name, groups and sites of an account; the username cannot change, because records name it."""

    class Meta:
        model = Person
        fields = ["first_name", "last_name", "email", "groups", "sites"]

    email = forms.EmailField(label="Email", required=False)
    first_name = forms.CharField(label="First name", max_length=150)
    last_name = forms.CharField(label="Last name", max_length=150)
    groups = forms.ModelMultipleChoiceField(
        Group.objects.order_by("name"), required=False, widget=forms.CheckboxSelectMultiple,
        help_text="What the person may do. A person in no group has no access.",
    )  # fmt: skip
    sites = forms.ModelMultipleChoiceField(
        None, required=False, widget=forms.CheckboxSelectMultiple,
        help_text="Limits the person to these sites. None ticked means every site.",
    )  # fmt: skip

    def __init__(self, *args, by, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["sites"].queryset = Site.objects.visible_to(by)
        if by.site_ids:
            self.fields["sites"].required = True
            self.fields["sites"].help_text = "Limits the person to these sites; at least one."


class NewPersonForm(PersonForm):
    class Meta(PersonForm.Meta):
        fields = ["username", *PersonForm.Meta.fields]
        help_texts = {
            "username": "Letters, digits and @ . + - _ only. It cannot be changed later, because records name it."
        }
