"""Hours, leave and competences of technicians; free days of sites, closing days of areas."""

from datetime import timedelta

from django import forms

from fleet.forms.fields import DecimalNumberField, day_field
from fleet.models import Area, MachineModel, Person, Site
from inspections.models import Leave
from inspections.models.calendars import WEEKDAYS
from inspections.schedule.required_skills import skills_asked_for
from inspections.schedule.technicians import technicians_for

MOST_DAYS = 366


class HoursForm(forms.Form):
    """Hours of each weekday, with decimals; stored in minutes."""

    def __init__(self, *args, minutes, **kwargs):
        super().__init__(*args, **kwargs)
        for weekday, name in enumerate(WEEKDAYS):
            self.fields[f"day_{weekday}"] = DecimalNumberField(
                label=f"{name} (h)", min_value=0, max_value=24, max_digits=4, decimal_places=2, required=False,
                initial=minutes.get(weekday, 0) / 60,
            )  # fmt: skip

    @property
    def minutes(self):
        """Minutes by weekday of the cleaned data; an empty field is none."""
        return {weekday: round(60 * (self.cleaned_data[f"day_{weekday}"] or 0)) for weekday in range(7)}


class DaysForm(forms.Form):
    """A first and a last day, at most a year apart."""

    first_day = day_field("First day")
    last_day = day_field("Last day")

    def clean(self):
        first, last = self.cleaned_data.get("first_day"), self.cleaned_data.get("last_day")
        if first and last and last < first:
            self.add_error("last_day", f"{last} is before {first}. Enter the first day or a later one.")
        elif first and last and last - first > timedelta(days=MOST_DAYS):
            self.add_error("last_day", f"Enter at most {MOST_DAYS} days at once.")


class LeaveForm(DaysForm):
    kind = forms.ChoiceField(label="Reason", choices=Leave.Kind.choices)
    field_order = ["kind", "first_day", "last_day"]


class AwayForm(LeaveForm):
    """Somebody who is away, and the days; the bookings of these days are moved."""

    technician = forms.ModelChoiceField(Person.objects.none(), empty_label="Choose a technician")
    field_order = ["technician", "kind", "first_day", "last_day"]

    def __init__(self, *args, person, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["technician"].queryset = technicians_for(person.site_ids or Site.objects.all())


class CompetenceForm(forms.Form):
    """For one model, for every model of a manufacturer, or in a skill that planning rules ask for."""

    machine_model = forms.ModelChoiceField(
        MachineModel.objects.all(), required=False, empty_label="Every model of the manufacturer, or the skill"
    )
    manufacturer = forms.CharField(max_length=100, required=False, help_text="Only without a model and a skill.")
    skill = forms.ChoiceField(
        required=False, help_text="Only without a model and a manufacturer. Planning rules name the skills."
    )
    last_day = day_field("Valid until", required=False, help_text="The last day. Empty: without an end.")
    evidence = forms.CharField(max_length=200, help_text="What shows it, such as a course with its date.")

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["skill"].choices = [("", "None"), *((name, name) for name in skills_asked_for())]


class FeedForm(forms.Form):
    """A calendar link of a technician or of an area."""

    technician = forms.ModelChoiceField(Person.objects.none(), required=False, empty_label="Choose a technician")
    area = forms.ModelChoiceField(Area.objects.none(), required=False, empty_label="or an area")

    def __init__(self, *args, person, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["technician"].queryset = technicians_for(person.site_ids or Site.objects.all())
        self.fields["area"].queryset = Area.objects.visible_to(person).select_related("site")

    @property
    def chosen(self):
        """What `make_calendar_feed` takes."""
        return {"person": self.cleaned_data["technician"], "area": self.cleaned_data["area"]}


class FreeDayForm(forms.Form):
    site = forms.ModelChoiceField(Site.objects.none(), empty_label="Choose a site")
    day = day_field("Day")
    title = forms.CharField(label="Name", max_length=80)

    def __init__(self, *args, person, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = Site.objects.visible_to(person)


class ClosingForm(forms.Form):
    """A weekday of every week, or days."""

    area = forms.ModelChoiceField(Area.objects.none(), empty_label="Choose an area")
    weekday = forms.TypedChoiceField(
        label="Every", choices=[("", "Only the days below"), *enumerate(WEEKDAYS)], coerce=int, empty_value=None,
        required=False,
    )  # fmt: skip
    first_day = day_field("First day", required=False)
    last_day = day_field("Last day", required=False)
    reason = forms.CharField(max_length=120, help_text="Why no machine can be taken then, such as “list day”.")

    def __init__(self, *args, person, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["area"].queryset = Area.objects.visible_to(person).select_related("site")
