"""Narrowing the list of inspections, and booking from it."""

from functools import cache
from hashlib import sha256

import django_filters
from django import forms
from django.utils import timezone

from fleet.forms.fields import day_field
from fleet.forms.filters import DayFilter, ListFilter, area_filter, site_filter, text_filter
from fleet.forms.selects import LongSelect, NamedChoiceFilter
from fleet.models import Machine, Person, Site
from fleet.models.querysets.machines import machines_found
from inspections.models import Inspection, Procedure, Stage
from inspections.schedule.area_minimums import shortfalls_if_booked
from inspections.schedule.booking_questions import booking_questions
from inspections.schedule.technicians import technicians_for, works_at

DAYS = (30, 60, 90)
OPEN_STAGES_CHOICES = [(stage.value, stage.label) for stage in (Stage.PLANNED, Stage.BOOKED, Stage.IN_PROGRESS)]
MOST_AT_ONCE = 100


def ticked(inspections, values):
    """Keep the inspections whose keys were ticked; all of them if none was."""
    keys = {int(value) for value in values if value.isascii() and value.isdigit()}
    return inspections.filter(pk__in=keys) if keys else inspections


def technicians_of(person):
    """The technicians of the sites that a person sees."""
    return technicians_for(person.site_ids) if person.site_ids else _technicians_everywhere().all()


@cache
def _technicians_everywhere():
    """Return the question, put together once; each copy asks it anew."""
    return technicians_for(Site.objects.all())


class WorkFilter(ListFilter):
    """What the list keeps; an empty choice keeps everything."""

    q = text_filter("Machine, serial or location")
    site = site_filter("machine__area__site", "Every site", method="on_machines")
    area = area_filter("machine__area", "Every area", method="on_machines")
    procedure = NamedChoiceFilter(
        label="Procedure", queryset=Procedure.objects.all(), empty_label="Every procedure",
        columns=("title",), words=str,
    )  # fmt: skip
    technician = NamedChoiceFilter(
        label="Technician", queryset=lambda request: technicians_of(request.user), empty_label="Anybody",
        columns=("first_name", "last_name", "username"), words=Person.in_words,
    )  # fmt: skip
    days = django_filters.TypedChoiceFilter(
        label="Due within",
        choices=[(days, f"{days} days") for days in DAYS],
        coerce=int,
        empty_value=DAYS[0],
        method="of_the_list",
    )
    week = DayFilter(label="Week of", method="of_the_list")
    stage = django_filters.ChoiceFilter(label="Stage", choices=OPEN_STAGES_CHOICES, empty_label="Any stage")
    until = DayFilter(label="Booked until", method="of_the_list")
    since = DayFilter(label="Since", method="of_the_list")

    found = None  # what the search found

    @property
    def finds_most(self):
        """Whether the search finds most of the machines."""
        return self.found is not None and self.found.is_most

    @property
    def finds_few(self):
        """Whether the search finds so few machines that their keys are named."""
        return self.found is not None and self.found.keys is not None

    @property
    def is_by_machine(self):
        """Whether what is kept is that of some machines: few of them found, or those of a site or an area."""
        return self.finds_few or any(self.asked[name] for name in ("site", "area"))

    @property
    def is_of_few_machines(self):
        """Whether these machines are so few that their inspections are found by them, rather than by stage and day."""
        return self.finds_few or bool(self.asked["area"])

    @property
    def all_of_sites(self):
        """Keys of the sites whose inspections are all kept; empty for every site, None where more is asked for."""
        site, narrowing = (
            self.asked["site"],
            (name for name, one in self.filters.items() if one.method != "of_the_list"),
        )
        if any(self.asked[name] for name in narrowing if name != "site"):
            return None
        return [site.pk] if site else self.request.user.site_ids

    def find(self, rows, name, text):
        self.found = machines_found(text)
        return rows.on_found(self.found)

    def on_machines(self, rows, name, place):
        """Keep the inspections of the machines at a place, which are few beside all that is open."""
        there = Machine.objects.filter(**{name.removeprefix("machine__"): place})
        return rows.filter(machine__in=there.order_by().values("pk"))


class BookingForm(forms.Form):
    """A technician and a day for one inspection or several.

    What speaks against the day (area short or closed, free day, leave, late, more work than the day has) is asked
    about: it is booked only if the box is ticked and the questions are those that the page showed.
    """

    technician = forms.ModelChoiceField(Person.objects.none(), empty_label="Choose a technician", widget=LongSelect)
    booked_on = day_field("Day")
    although_short = forms.BooleanField(label="Book anyway", required=False)
    asked = forms.CharField(required=False, widget=forms.HiddenInput(), max_length=64)
    seen = forms.CharField(required=False, widget=forms.HiddenInput(), max_length=40)

    def __init__(self, *args, inspections, **kwargs):
        super().__init__(*args, **kwargs)
        self.inspections = inspections
        self.site_ids = {inspection.machine.area.site_id for inspection in inspections}
        if inspections:
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
        elif technician and booked_on:
            self._ask(technician, booked_on)

    def _ask(self, technician, booked_on):
        questions = [str(one) for one in shortfalls_if_booked(self.inspections, booked_on)]
        questions += booking_questions(self.inspections, technician, booked_on, timezone.localdate())
        digest = sha256("\n".join(questions).encode()).hexdigest()
        if not questions or self._is_answered(digest):
            return
        self.data = self.data.copy()
        self.data["asked"] = digest
        self.data.pop("although_short", None)
        self.fields["although_short"].widget = forms.CheckboxInput()
        for words in questions:
            self.add_error("booked_on", f"{words} Choose another day, or tick “Book anyway”.")

    def _is_answered(self, digest):
        """Whether the box was ticked for these very questions; a form that names none answers whatever is asked."""
        return self.cleaned_data.get("although_short") and self.data.get("asked", digest) in ("", digest)


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
