"""The list of inspections: what falls due, what is booked, what waits."""

from datetime import timedelta

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from fleet.models import Area
from fleet.web.at_site import day_words
from fleet.web.query_values import choice_asked, show_page, sort_all
from inspections.actions import book_inspections
from inspections.errors import Refused
from inspections.forms.work import BookingForm, ChosenForm, WorkFilterForm
from inspections.models import Inspection
from inspections.schedule.area_minimums import shortfalls
from inspections.schedule.bookings import bookings_by_week
from inspections.schedule.on_time import work_figures
from inspections.schedule.recent_work import start_of
from inspections.tables.export import csv_response
from inspections.tables.work import InspectionTable, SignedTable, VoidTable

PER_PAGE = 25
WARN_DAYS = 30
WARNINGS = 5
TABLES = {"signed": SignedTable, "countersign": SignedTable, "void": VoidTable}
FILTERS_OF = {  # fields that only some headings take
    "mine": {"stage"},
    "due": {"days", "stage", "technician"},
    "overdue": {"stage", "technician"},
    "booked": {"week", "until", "technician"},
    "bench": {"technician"},
    "countersign": {"technician"},
    "signed": {"since", "technician"},
    "void": {"since", "technician"},
}
FILTERS_OF_SOME = set().union(*FILTERS_OF.values())
EMPTY = {
    "mine": "Nothing is booked for you. Due and overdue inspections are under the other tabs.",
    "due": "Nothing is due in this period. Choose a longer period, or run “manage.py plan_due” if machines were just "
    "entered.",
    "overdue": "Nothing is overdue.",
    "booked": "Nothing is booked. Tick inspections under “Due” and choose a technician and a day.",
    "bench": "No inspection is in progress.",
    "countersign": "No inspection awaits a countersignature.",
    "signed": "Nothing is signed yet.",
    "void": "No inspection has been voided.",
}


class Tabs:
    """The headings that divide the inspections of the list, for one person on one day."""

    def __init__(self, person, today, form, inspections):
        self.person, self.today, self.form, self.inspections = person, today, form, inspections

    def rows(self, name):
        """The inspections under the heading `name`."""
        return {
            "mine": lambda rows: rows.open().for_technician(self.person),
            "due": lambda rows: rows.coming(self.today, self.form.asked_days),
            "overdue": lambda rows: rows.overdue(self.today),
            "booked": lambda rows: self.until(self.of_week(rows.booked())),
            "bench": lambda rows: rows.on_bench(),
            "countersign": lambda rows: rows.awaiting_countersignature(),
            "signed": lambda rows: self.since(rows.signed(), "signed_at"),
            "void": lambda rows: self.since(rows.void(), "voided_at"),
        }[name](self.inspections)

    def of_week(self, rows):
        week = self.form.cleaned_data.get("week")
        if not week:
            return rows
        monday = week - timedelta(days=week.weekday())
        return rows.booked_between(monday, monday + timedelta(days=6))

    def until(self, rows):
        day = self.form.cleaned_data.get("until")
        return rows.filter(booked_on__lte=day) if day else rows

    def since(self, rows, moment):
        day = self.form.cleaned_data.get("since")
        return rows.filter(**{f"{moment}__gte": start_of(day)}) if day else rows

    @property
    def labels(self):
        """Key and label of every heading; the person's own inspections come first."""
        own = {"mine": "My inspections"} if self.person.has_perm("inspections.enter_reading") else {}
        return {
            **own,
            "due": "Due",
            "overdue": "Overdue",
            "booked": "Booked",
            "bench": "In progress",
            "countersign": "To countersign",
            "signed": "Signed",
            "void": "Void",
        }

    def chosen(self, request):
        return choice_asked(request, "view", self.labels) or next(iter(self.labels))

    def with_counts(self, chosen):
        """Key, label, count and whether it is the chosen one; what is done for good is not counted."""
        return [
            (name, label, None if name in ("signed", "void") else self.rows(name).count(), name == chosen)
            for name, label in self.labels.items()
        ]


@permission_required("inspections.view_inspection", raise_exception=True)
@require_safe
def work(request):
    today = timezone.localdate()
    visible = Inspection.objects.visible_to(request.user)
    form = WorkFilterForm(request.GET, person=request.user)
    tabs = Tabs(request.user, today, form, form.narrow(visible))
    chosen = tabs.chosen(request)
    table = _table(request, tabs, chosen, today)
    if choice_asked(request, "export", ["csv"]):
        return csv_response(table, f"inspections-{chosen}")
    show_page(request, table, PER_PAGE)
    context = {
        "form": form,
        "tabs": tabs.with_counts(chosen),
        "chosen": chosen,
        "hidden_filters": FILTERS_OF_SOME - FILTERS_OF.get(chosen, set()),
        "empty": EMPTY[chosen],
        "table": table,
        "figures": work_figures(request.user, today),
        "warnings": _warnings(request.user, today),
        "bookings": bookings_by_week(visible, today) if chosen == "booked" else None,
        "booking_form": _booking_form(request.user, chosen),
    }
    return render(request, "inspections/work.html", context)


@permission_required("inspections.plan_inspection", raise_exception=True)
@require_POST
def book_many(request):
    """Book what was ticked in the list; what cannot be booked so is shown again with the reason."""
    chosen = ChosenForm(request.POST, person=request.user)
    if not chosen.is_valid():
        messages.error(request, " ".join(chosen.errors["inspection"]))
        return redirect("inspections:work")
    inspections = chosen.cleaned_data["inspection"]
    form = BookingForm(request.POST, inspections=inspections)
    if form.is_valid():
        who = {name: form.cleaned_data[name] for name in ("technician", "booked_on")}
        try:
            book_inspections(inspections, by=request.user, at=timezone.now(), **who)
        except Refused as error:
            messages.error(request, f"{error} None was booked.")
            return redirect("inspections:work")
        day = day_words(who["booked_on"])
        messages.success(request, f"{len(inspections)} booked for {who['technician']} on {day}.")
        return redirect("inspections:work")
    return render(request, "inspections/book_many.html", {"form": form, "inspections": inspections})


def _table(request, tabs, chosen, today):
    rows = tabs.rows(chosen).with_place()
    kind = TABLES.get(chosen, InspectionTable)
    if kind is SignedTable:
        rows = rows.select_related("signed_by")
    table = kind(rows, today=today, empty_text=EMPTY[chosen])
    if kind is InspectionTable and not _may_book(request.user, chosen):
        table.columns.hide("select")
    if chosen in ("booked", "mine"):
        table.order_by = ("booked_on", "due_on")
    sort_all(request, table)
    return table


def _may_book(person, chosen):
    return chosen in ("mine", "due", "overdue", "booked") and person.has_perm("inspections.plan_inspection")


def _booking_form(person, chosen):
    if not _may_book(person, chosen):
        return None
    form = BookingForm(inspections=[], auto_id="booking_%s")
    form.fields["technician"].queryset = WorkFilterForm(person=person).fields["technician"].queryset
    return form


def _warnings(person, today):
    found = shortfalls(Area.objects.visible_to(person), today, today + timedelta(days=WARN_DAYS))
    return {"shown": found[:WARNINGS], "number": len(found), "more": max(0, len(found) - WARNINGS)}
