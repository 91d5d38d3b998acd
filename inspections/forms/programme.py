"""Narrowing the figures of the programme."""

import django_filters

from fleet.forms.filters import DayFilter, ListFilter, area_filter, site_filter
from fleet.models import MachineModel


class ProgrammeFilter(ListFilter):
    since = DayFilter(label="From", method="of_the_list")
    until = DayFilter(label="To", method="of_the_list")
    site = site_filter("area__site", "Every site")
    area = area_filter("area", "Every area")
    model = django_filters.ModelChoiceFilter(
        "model", label="Model", queryset=MachineModel.objects.all(), empty_label="Every model"
    )
