"""Where a machine is: its moves, loans and outside repairs."""

import django_filters
from django import forms

from fleet.forms.components import UpToToday
from fleet.forms.fields import day_field
from fleet.forms.filters import ListFilter, site_filter, text_filter
from fleet.models import Area, AwayKind

VIEWS = [("overdue", "Overdue"), ("back", "Came back"), ("any", "All")]


class MoveForm(UpToToday, forms.Form):
    """`today` is the date at the machine's site."""

    area = forms.ModelChoiceField(Area.objects.none(), empty_label="Choose an area")
    on = day_field("There since", help_text="The first day in the area. It counts until the next recorded move.")
    evidence = forms.CharField(
        label="How it is known",
        max_length=300,
        widget=forms.Textarea({"rows": 2}),
        help_text="Such as “seen there”, or the order of the move.",
    )

    def __init__(self, *args, person, today, **kwargs):
        super().__init__(*args, **kwargs)
        self.today = today
        self.fields["area"].queryset = Area.objects.visible_to(person).select_related("site")

    def clean_on(self):
        return self.check_day("on")


class AwayForm(UpToToday, forms.Form):
    kind = forms.ChoiceField(label="What for", choices=AwayKind.choices, widget=forms.RadioSelect)
    to_whom = forms.CharField(
        label="To whom", max_length=120, help_text="The department, hospital or workshop, and a name."
    )
    from_date = day_field("Away from")
    expected_on = day_field("Expected back on")
    reason = forms.CharField(max_length=300, widget=forms.Textarea({"rows": 2}))
    note = forms.CharField(max_length=300, required=False, help_text="Such as what goes with it, or an order number.")

    def __init__(self, *args, today, **kwargs):
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_from_date(self):
        return self.check_day("from_date")


class BackForm(UpToToday, forms.Form):
    returned_on = day_field("Came back on")
    return_note = forms.CharField(
        label="Condition on return", max_length=300, required=False, widget=forms.Textarea({"rows": 2})
    )

    def __init__(self, *args, today, **kwargs):
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_returned_on(self):
        return self.check_day("returned_on")


class ExpectedForm(forms.Form):
    expected_on = day_field("Expected back on")
    note = forms.CharField(label="Why another day", max_length=300, widget=forms.Textarea({"rows": 2}))


class AwayFilter(ListFilter):
    """The machines that are away, unless the list asks for others."""

    q = text_filter("Machine, or to whom")
    site = site_filter("machine__area__site")
    kind = django_filters.ChoiceFilter(label="What for", choices=AwayKind.choices, empty_label="Either")
    view = django_filters.ChoiceFilter(label="Show", choices=VIEWS, empty_label="Away now", method="of_the_list")

    def filter_queryset(self, queryset):
        rows, view = super().filter_queryset(queryset), self.form.cleaned_data["view"]
        if view == "any":
            return rows
        if view == "back":
            return rows.filter(returned_on__isnull=False)
        return rows.overdue(self.today) if view == "overdue" else rows.now()
