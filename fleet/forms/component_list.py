"""The filter of the list of components."""

import django_filters

from fleet.forms.filters import ListFilter, site_filter, text_filter
from fleet.models.components import kind_choices


class ComponentFilter(ListFilter):
    q = text_filter("Serial, lot or part number")
    site = site_filter("machine__area__site")
    kind = django_filters.ChoiceFilter(label="Kind", choices=kind_choices, empty_label="Any")
    presence = django_filters.ChoiceFilter(
        label="On the machine", choices=[("in-place", "In place"), ("removed", "Removed")], empty_label="Any",
        method="of_presence",
    )  # fmt: skip

    def of_presence(self, components, name, presence):
        return components.in_place() if presence == "in-place" else components.removed()
