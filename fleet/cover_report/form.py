"""The filter of the cover report."""

from django import forms

from fleet.catalogue import FEATURES, HAZARDS, FeatureClass
from fleet.catalogue.gaps import Standing
from fleet.cover_report.criteria import STATUS_CHOICES, CoverFilter
from fleet.forms.fields import day_field
from fleet.models import Area, MachineModel, Site
from fleet.web.query_values import accepted_fields, with_present_names

STANDINGS = [
    ("", "Any"),
    (Standing.GAP, "A gap"),
    (Standing.DOUBT, "Not known"),
    (Standing.COVERED, "Covered"),
    (Standing.REPLACED, "Replaced by another"),
    (Standing.DOES_NOT_APPLY, "Does not apply"),
]


class CoverForm(forms.Form):
    """Reads the filter from a query string; a parameter that is missing means all, on the day `today`."""

    site = forms.ModelChoiceField(Site.objects.none(), required=False, empty_label="All sites")
    area = forms.ModelChoiceField(Area.objects.none(), required=False, empty_label="All areas")
    model = forms.ModelChoiceField(MachineModel.objects.all(), required=False, empty_label="All models")
    status = forms.ChoiceField(label="Status", choices=STATUS_CHOICES, required=False)
    feature_class = forms.ChoiceField(
        label="Class", choices=[("", "All classes"), *((c, c.capitalize()) for c in FeatureClass)], required=False
    )
    hazard = forms.ChoiceField(
        choices=[("", "All hazards"), *((h.code, h.name) for h in HAZARDS.values())], required=False
    )
    feature = forms.ChoiceField(
        label="Safety feature",
        choices=[("", "Any safety feature"), *((f.code, f.name) for f in FEATURES.values())],
        required=False,
    )
    standing = forms.ChoiceField(label="State", choices=STANDINGS, required=False)
    on = day_field("As of", required=False)

    def __init__(self, data, *, person, today):
        super().__init__(with_present_names(data))
        self.today = today
        self.fields["site"].queryset = Site.objects.visible_to(person)
        self.fields["area"].queryset = Area.objects.visible_to(person).select_related("site")
        self.fields["on"].widget.attrs["max"] = today.isoformat()

    def clean_on(self):
        on = self.cleaned_data["on"]
        if on and on > self.today:
            raise forms.ValidationError(f"{on} is in the future. Enter a date up to {self.today}.")
        return on

    def wanted(self):
        """Return the CoverFilter. Raises QueryRefused for a value that is not accepted."""
        given = {name: value for name, value in accepted_fields(self).items() if value}
        return CoverFilter(**{"on": self.today, "today": self.today, **given})
