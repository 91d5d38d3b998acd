"""What a sum can close: the sum, the limits, and a what-if beside them."""

import re

from django import forms

from fleet.catalogue.currencies import CURRENCY_DIGITS, in_smallest_units
from fleet.forms.money import amount_field
from fleet.models import Machine, Site, SiteCurrency
from inspections.planning.fleet_choice import TURNS_A_YEAR
from inspections.retirement.fleet_problem import Asked

MOST_RETIRED = 200


def number_field(label, high, *, low=0, required=False, **options):
    return forms.IntegerField(label=label, min_value=low, max_value=high, required=required, **options)


class FleetChoiceForm(forms.Form):
    title = forms.CharField(max_length=120, help_text="Such as “Board of March, 120,000 a year”.")
    site = forms.ModelChoiceField(Site.objects.none(), required=False, empty_label="All sites of the currency")
    currency = forms.ChoiceField(help_text="Sites that reckon in another currency are left out.")
    yearly = amount_field("Money for each of three years", help_text="For replacements and alterations.")
    carries_over = forms.BooleanField(label="Money left in a year is there in the next", required=False)
    machines = number_field("At most so many machines a year", 100_000, help_text="Empty: no limit.")
    hours = number_field("Hours of technicians a year for alterations", 100_000, help_text="Empty: no limit.")
    technicians = number_field("Technicians who share these hours", 1000, low=1, required=True, initial=1)
    turns = number_field(
        "Machines that one spare machine stands in for in a year", 400, low=1, required=True, initial=TURNS_A_YEAR,
        help_text="While a machine is altered, its area must keep its minimum.",
    )  # fmt: skip
    may_retire = forms.BooleanField(
        label="Machines may be retired without a new one, where the minimum of the area allows", required=False
    )
    replace = number_field("What if: replace exactly so many machines", 100_000)
    alter = number_field("What if: alter exactly so many machines", 100_000)
    retire = forms.CharField(
        label="What if: retire these machines", required=False, max_length=4000,
        widget=forms.Textarea(attrs={"rows": 2}), help_text="Asset numbers, separated by commas or lines.",
    )  # fmt: skip
    fewer = number_field("What if: so many technicians fewer", 1000, initial=0)

    def __init__(self, *args, person, **kwargs):
        super().__init__(*args, **kwargs)
        self.person = person
        self.fields["site"].queryset = Site.objects.visible_to(person)
        held = SiteCurrency.objects.visible_to(person).order_by("currency").values_list("currency", flat=True)
        self.fields["currency"].choices = [(code, code) for code in dict.fromkeys(held)]
        if person.site_ids:
            self.fields["site"].required = True
            self.fields["site"].empty_label = "Choose a site"

    def clean_retire(self):
        parts = re.split(r"[,;\n]", self.cleaned_data["retire"])
        names = list(dict.fromkeys(part.strip() for part in parts if part.strip()))
        if len(names) > MOST_RETIRED:
            raise forms.ValidationError(f"At most {MOST_RETIRED} machines; got {len(names)}.")
        rows = Machine.objects.visible_to(self.person).not_retired().filter(asset_number__in=names)
        unknown = sorted(set(names) - set(rows.values_list("asset_number", flat=True)))
        if unknown:
            raise forms.ValidationError(f"No machine that you may see: {', '.join(unknown[:10])}. Enter asset numbers.")
        return names

    def clean(self):
        data = super().clean()
        if data.get("yearly") is not None and data.get("currency") in CURRENCY_DIGITS:
            try:
                in_smallest_units(data["yearly"], data["currency"])
            except ValueError as error:
                self.add_error("yearly", f"{error}.")
        if (data.get("fewer") or 0) > (data.get("technicians") or 1):
            self.add_error("fewer", "There cannot be fewer than none: enter at most the number of technicians.")
        if data.get("fewer") and data.get("hours") is None:
            self.add_error("hours", "Enter the hours of a year, so that fewer technicians make a difference.")
        return data

    @property
    def asked(self):
        data = dict(self.cleaned_data)
        site = data.pop("site")
        data |= {"yearly": str(data["yearly"]), "fewer": data["fewer"] or 0, "site": site.pk if site else None}
        return Asked(**data)
