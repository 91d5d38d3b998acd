"""What the filters of all lists share."""

import django_filters
from django import forms
from django.utils import timezone

from fleet.forms.fields import DayField
from fleet.forms.selects import NamedChoiceFilter
from fleet.models import Area, Site
from fleet.web.query_values import accepted_fields


class ListFilter(django_filters.FilterSet):
    """The filter of a list, read from an address. A value that is not accepted is refused with a sentence."""

    def __init__(self, data, queryset, *, request):
        super().__init__(data, queryset, request=request)
        self.now = timezone.now()
        self.today = timezone.localdate(self.now)

    @property
    def asked(self):
        """What the address asks for, by name. Raise QueryRefused."""
        return accepted_fields(self.form)

    def rows(self):
        """Return the rows that the filter leaves. Raise QueryRefused."""
        accepted_fields(self.form)
        return self.qs

    @property
    def narrows(self):
        """Whether the address leaves out any row, but for what the view reads itself. Raise QueryRefused."""
        return any(self.asked[name] for name, one in self.filters.items() if one.method != "of_the_list")

    def find(self, rows, name, text):
        return rows.found_by(text)

    def of_the_list(self, rows, name, value):
        """Leave the rows as they are: the view reads the value itself."""
        return rows


class DayFilter(django_filters.Filter):
    field_class = DayField


def text_filter(label="Search", *, autocomplete=True):
    """A search in what `found_by` of the rows searches."""
    attrs = {"type": "search"} if autocomplete else {"type": "search", "autocomplete": "off"}
    return django_filters.CharFilter(label=label, max_length=80, widget=forms.TextInput(attrs), method="find")


def site_filter(path, empty_label="All sites", **options):
    """One of the sites that the person sees."""
    return NamedChoiceFilter(
        path, label="Site", empty_label=empty_label, queryset=lambda request: Site.objects.visible_to(request.user),
        columns=("name",), words=str, **options,
    )  # fmt: skip


def area_filter(path, empty_label="All areas", **options):
    """One of the areas that the person sees."""
    return NamedChoiceFilter(
        path, label="Area", empty_label=empty_label, queryset=lambda request: Area.objects.visible_to(request.user),
        columns=("name", "site__name"), words=Area.in_words, **options,
    )  # fmt: skip
