"""Recording that an inspection did not happen, and narrowing the list of what was attempted several times."""

import django_filters
from django import forms

from fleet.forms.fields import day_field
from fleet.forms.filters import ListFilter, area_filter, site_filter, text_filter
from inspections.models import AttemptKind


class AttemptForm(forms.Form):
    kind = forms.ChoiceField(label="What happened instead", choices=AttemptKind.choices, widget=forms.RadioSelect)
    reason = forms.CharField(
        required=False,
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Required for all but “Could not locate” and “In use”; there, such as where you looked.",
    )
    decided_by = forms.CharField(
        label="Decided by",
        required=False,
        max_length=120,
        help_text="A name or a post. Required for a deferral and a refusal.",
    )
    until = day_field("Until", required=False)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["until"].help_text = (
            "Required for a deferral; the day on which a machine that is away is expected back. The inspection stays "
            "due as it is: a deferral moves no due date."
        )


class AttemptedFilter(ListFilter):
    q = text_filter("Machine, serial or location")
    site = site_filter("area__site", "Every site")
    area = area_filter("area", "Every area")
    kind = django_filters.ChoiceFilter(
        label="Last attempt", choices=AttemptKind.choices, empty_label="Any kind", field_name="last_kind"
    )
