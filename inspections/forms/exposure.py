"""What an exposure over time is computed for."""

from django import forms

from fleet.models import Site
from inspections.models import FleetChoice

MOST_CHOICES = 50


class ExposureForm(forms.Form):
    """A site, and the stored choice whose decisions are looked ahead at."""

    site = forms.ModelChoiceField(Site.objects.none(), required=False, empty_label="All sites")
    choice = forms.ModelChoiceField(
        FleetChoice.objects.none(), required=False, label="What a sum can close", empty_label="None: only keep",
        help_text="The stored choice whose alterations and replacements are looked ahead at.",
    )  # fmt: skip

    def __init__(self, *args, person, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = Site.objects.visible_to(person)
        newest = FleetChoice.objects.visible_to(person).values_list("pk", flat=True)[:MOST_CHOICES]
        self.fields["choice"].queryset = FleetChoice.objects.filter(pk__in=list(newest)).defer("inputs", "result")
        if person.site_ids:
            self.fields["site"].required = True
            self.fields["site"].empty_label = "Choose a site"

    def clean(self):
        data = super().clean()
        choice, site = data.get("choice"), data.get("site")
        if choice and choice.site_id and choice.site_id != (site.pk if site else None):
            self.add_error("choice", f"“{choice}” is of {choice.site}. Choose that site as well, or another choice.")
        return data
