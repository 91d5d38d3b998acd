"""Sites and areas."""

from functools import cache
from zoneinfo import available_timezones

from django import forms
from django.conf import settings

from fleet.catalogue.public_holidays import country_choices
from fleet.catalogue.rule_sets import RULE_SET_TITLES
from fleet.forms.fields import NumberField
from fleet.models import Area, Site
from fleet.place_format import unit_choices

FORMATS = ("decimal_sign", "date_format", "paper_size")
UNIT = "unit_"
REGIONS = {
    "Africa", "America", "Antarctica", "Arctic", "Asia", "Atlantic", "Australia", "Europe", "Indian", "Pacific",
}  # fmt: skip


@cache
def zone_choices():
    """The zones of the IANA list by continent, then UTC. Names that are no place, such as “EST”, are left out."""
    by_region = {}
    for name in sorted(available_timezones()):
        region, _, city = name.partition("/")
        if region in REGIONS and city:
            by_region.setdefault(region, []).append((name, city.replace("_", " ")))
    return [("", "Choose a time zone"), *by_region.items(), ("Other", [("UTC", "UTC")])]


class SiteForm(forms.ModelForm):
    """A site with its time zone, formats and a preferred unit for each dimension that has several."""

    time_zone = forms.ChoiceField(
        choices=zone_choices,
        error_messages={"invalid_choice": "“%(value)s” is not a time zone. Choose one of the list."},
    )

    oxygen_percent = NumberField(
        label="Oxygen of the supply (% by volume)",
        required=False,
        help_text=Site._meta.get_field("oxygen_percent").help_text,
    )

    holiday_country = forms.ChoiceField(
        label="Country of the public holidays",
        choices=lambda: [("", "None"), *country_choices()],
        required=False,
        help_text=Site._meta.get_field("holiday_country").help_text,
        error_messages={"invalid_choice": "“%(value)s” is not a country of the list. Choose one of the list."},
    )

    class Meta:
        model = Site
        fields = [
            "name", "altitude_m", "oxygen_grade", "oxygen_percent",
            "time_zone", "rule_set", *FORMATS, "two_for_release", "two_for_amendment",
            "two_for_finding", "two_for_limit", "signer_may_release", "two_after_repair",
            "has_label_page", "fault_phone", "check_list",
            "holiday_country", "holiday_subdivision", "needs_competence",
        ]  # fmt: skip

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self._keep_stored_zone()
        self.fields["rule_set"].choices = [("", "Not chosen yet"), *RULE_SET_TITLES.items()]
        for name in (*FORMATS, "oxygen_grade"):
            self.fields[name].required = False  # left out by a form of an earlier release: stays as it is
        for choice in unit_choices():
            self.fields[unit_field(choice)] = forms.ChoiceField(
                label=f"Unit of {choice.name[:1].lower()}{choice.name[1:]}",
                choices=[("", "Unit of the test"), *((symbol, symbol) for symbol in choice.symbols)],
                required=False,
                initial=self.instance.preferred_units.get(choice.code, ""),
            )

    def _keep_stored_zone(self):
        """Offer a zone that the site has and the list leaves out, such as “EST”."""
        zone, field = self.instance.time_zone, self.fields["time_zone"]
        if zone and not field.valid_value(zone):
            field.choices = [*field.choices, (zone, zone)]

    @property
    def main_fields(self):
        return [field for field in self if not field.name.startswith(UNIT)]

    @property
    def unit_fields(self):
        return [field for field in self if field.name.startswith(UNIT)]

    @property
    def has_unit_error(self):
        return any(field.errors for field in self.unit_fields)

    def clean(self):
        data = super().clean()
        for name in ("rule_set", "oxygen_percent", "holiday_country", "holiday_subdivision"):
            if self.add_prefix(name) not in self.data:
                data[name] = getattr(self.instance, name)
        data["oxygen_grade"] = data.get("oxygen_grade") or self.instance.oxygen_grade
        for name in FORMATS:
            data[name] = data.get(name) or getattr(self.instance, name)
        names = {choice.code: unit_field(choice) for choice in unit_choices()}
        was_shown = any(self.add_prefix(name) in self.data for name in names.values())
        chosen = {code: data.pop(name, "") for code, name in names.items()}
        stored = {code: symbol for code, symbol in chosen.items() if symbol}
        data["preferred_units"] = stored if was_shown else self.instance.preferred_units
        return data


def unit_field(choice):
    """The name of the field for one preferred unit."""
    return f"{UNIT}{choice.code.replace(' ', '_')}"


class NewSiteForm(SiteForm):
    """A new site also gets the code by which a register file names it."""

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.initial["time_zone"] = "" if settings.TIME_ZONE == "UTC" else settings.TIME_ZONE

    class Meta(SiteForm.Meta):
        fields = ["code", *SiteForm.Meta.fields]


class AreaForm(forms.ModelForm):
    class Meta:
        model = Area
        fields = ["name", "minimum_machines"]

    def clean_name(self):
        name = self.cleaned_data["name"].strip()
        taken = Area.objects.filter(site=self.instance.site, name__iexact=name).exclude(pk=self.instance.pk)
        if taken.exists():
            raise forms.ValidationError(
                f"{self.instance.site} already has an area called “{name}”. Enter another name."
            )
        return name
