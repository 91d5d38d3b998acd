"""The filter of the list of components."""

import django_filters

from fleet.forms.filters import ListFilter, site_filter, text_filter
from fleet.models.components import kind_choices
from fleet.models.querysets.among_keys import among


class ComponentFilter(ListFilter):
    q = text_filter("Serial, lot or part number")
    site = site_filter("machine__area__site")
    kind = django_filters.ChoiceFilter(label="Kind", choices=kind_choices, empty_label="Any")
    presence = django_filters.ChoiceFilter(
        label="On the machine", choices=[("in-place", "In place"), ("removed", "Removed")], empty_label="Any",
        method="of_presence",
    )  # fmt: skip

    found_many = False

    @property
    def finds_many(self):
        """Whether the search alone says what is kept, and finds more components than it names by their keys."""
        others = any(self.asked[name] for name in ("site", "kind", "presence"))
        return self.found_many and not others and not self.request.user.site_ids

    def find(self, rows, name, text):
        keys = rows.model.objects.keys_numbered(text)
        self.found_many = keys is None
        return rows.numbered(text) if self.found_many else rows.filter(among("pk", keys))

    def of_presence(self, components, name, presence):
        return components.in_place() if presence == "in-place" else components.removed()
