"""Narrowing the list of inspections, and booking from it."""

from django import forms
from django.utils import timezone

from fleet.forms.fields import day_field
from fleet.models import Area, Person, Site
from fleet.web.query_values import accepted_fields
from inspections.models import Inspection, Procedure, Stage
from inspections.schedule.area_minimums import shortfalls_if_booked
from inspections.schedule.technicians import technicians_for, works_at

DAYS = (30, 60, 90)
OPEN_STAGES_CHOICES = [(stage.value, stage.label) for stage in (Stage.PLANNED, Stage.BOOKED, Stage.ON_BENCH)]
MOST_AT_ONCE = 100


def ticked(inspections, values):
    """Keep the inspections whose keys were ticked; all of them if none was."""
    keys = {int(value) for value in values if value.isascii() and value.isdigit()}
    return inspections.filter(pk__in=keys) if keys else inspections


class WorkFilterForm(forms.Form):
    """What the list keeps; an empty choice keeps everything."""

    q = forms.CharField(label="Machine, serial or location", required=False, max_length=80)
    site = forms.ModelChoiceField(Site.objects.none(), required=False, empty_label="Every site")
    area = forms.ModelChoiceField(Area.objects.none(), required=False, empty_label="Every area")
    procedure = forms.ModelChoiceField(Procedure.objects.all(), required=False, empty_label="Every procedure")
    technician = forms.ModelChoiceField(Person.objects.none(), required=False, empty_label="Anybody")
    days = forms.TypedChoiceField(
        label="Due within",
        choices=[(days, f"{days} days") for days in DAYS],
        coerce=int,
        required=False,
        empty_value=30,
    )
    week = day_field("Week of", required=False)
    stage = forms.ChoiceField(choices=[("", "Any stage"), *OPEN_STAGES_CHOICES], required=False)
    until = day_field("Booked until", required=False)
    since = day_field("Since", required=False)

    PATHS = {
        "stage": "stage",
        "site": "machine__area__site",
        "area": "machine__area",
        "procedure": "procedure",
        "technician": "technician",
    }

    def __init__(self, *args, person, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = Site.objects.visible_to(person)
        self.fields["area"].queryset = Area.objects.visible_to(person).select_related("site")
        self.fields["technician"].queryset = technicians_for(person.site_ids or Site.objects.all())

    def narrow(self, inspections):
        """Keep the inspections that the form asks for."""
        asked = accepted_fields(self)
        if asked.get("q"):
            inspections = inspections.found_by(asked["q"])
        return inspections.filter(**{path: asked[name] for name, path in self.PATHS.items() if asked.get(name)})

    @property
    def asked_days(self):
        return self.cleaned_data.get("days") or DAYS[0] if hasattr(self, "cleaned_data") else DAYS[0]


class BookingForm(forms.Form):
    """A technician and a day for one inspection or several; a day that leaves an area short needs confirmation."""

    technician = forms.ModelChoiceField(Person.objects.none(), empty_label="Choose a technician")
    booked_on = day_field("Day")
    although_short = forms.BooleanField(label="Book anyway", required=False)
    seen = forms.CharField(required=False, widget=forms.HiddenInput(), max_length=40)

    def __init__(self, *args, inspections, **kwargs):
        super().__init__(*args, **kwargs)
        self.inspections = inspections
        self.site_ids = {inspection.machine.area.site_id for inspection in inspections}
        self.fields["technician"].queryset = technicians_for(self.site_ids)
        if not self.data.get("although_short"):
            self.fields["although_short"].widget = forms.HiddenInput()

    def clean_booked_on(self):
        booked_on, today = self.cleaned_data["booked_on"], timezone.localdate()
        if booked_on < today:
            raise forms.ValidationError(f"{booked_on} is in the past. Enter today, {today}, or a later day.")
        return booked_on

    def clean(self):
        technician, booked_on = self.cleaned_data.get("technician"), self.cleaned_data.get("booked_on")
        if technician and not works_at(technician, self.site_ids):
            self.add_error("technician", f"{technician} does not work at every site of these machines.")
        elif technician and booked_on and not self.cleaned_data.get("although_short"):
            self._tell_shortfalls(booked_on)

    def _tell_shortfalls(self, booked_on):
        for shortfall in shortfalls_if_booked(self.inspections, booked_on):
            self.fields["although_short"].widget = forms.CheckboxInput()
            self.add_error("booked_on", f"{shortfall} Choose another day, or tick “Book anyway”.")


class ChosenForm(forms.Form):
    """The inspections ticked in the list, as far as the person may see them and they can still be booked."""

    inspection = forms.ModelMultipleChoiceField(
        Inspection.objects.none(), error_messages={"required": "First tick the inspections to book in the list."}
    )

    def __init__(self, *args, person, **kwargs):
        super().__init__(*args, **kwargs)
        visible = Inspection.objects.visible_to(person).with_place()
        self.fields["inspection"].queryset = visible.not_begun()
        self.fields["inspection"].error_messages["invalid_choice"] = (
            "One of the inspections has already been started, signed or voided, or you may not book it. "
            "Open the list again and select again."
        )

    def clean_inspection(self):
        chosen = list(self.cleaned_data["inspection"])
        if len(chosen) > MOST_AT_ONCE:
            raise forms.ValidationError(f"{len(chosen)} inspections are too many at once; book up to {MOST_AT_ONCE}.")
        return chosen
