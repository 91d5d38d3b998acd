"""The list of inspections: what falls due, what is booked, what waits."""

from datetime import timedelta

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from fleet.models import Area
from fleet.views.lists import TableList
from fleet.web.at_site import day_words
from fleet.web.query_values import choice_asked
from inspections.actions import book_inspections
from inspections.errors import Refused
from inspections.forms.work import MOST_AT_ONCE, BookingForm, ChosenForm, WorkFilter
from inspections.kept.work_figures import work_figures
from inspections.models import Inspection
from inspections.models.querysets.inspections import counts_of
from inspections.schedule.area_minimums import areas_with_minimum, shortfalls
from inspections.schedule.bookings import bookings_by_week
from inspections.schedule.recent_work import start_of
from inspections.tables.work import COLUMNS, InspectionTable, SignedTable, VoidTable

COUNTERSIGN = "inspections.countersign_inspection"
COUNTED = 500
WARN_DAYS = 30
WARNINGS = 5
TABLES = {"signed": SignedTable, "incomplete": SignedTable, "countersign": SignedTable, "void": VoidTable}
FILTERS_OF = {  # fields that only some headings take
    "mine": {"stage"},
    "due": {"days", "stage", "technician"},
    "overdue": {"stage", "technician"},
    "booked": {"week", "until", "technician"},
    "bench": {"technician"},
    "countersign": {"technician"},
    "incomplete": {"since", "technician"},
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
    "incomplete": "No signed inspection is incomplete.",
    "signed": "Nothing is signed yet.",
    "void": "No inspection has been voided.",
}


class Tabs:
    """The headings that divide the inspections of the list, for one person on one day."""

    def __init__(self, person, today, asked, inspections):
        self.person, self.today, self.asked, self.inspections = person, today, asked, inspections

    def rows(self, name):
        """The inspections under the heading `name`."""
        return {
            "mine": lambda rows: rows.open().for_technician(self.person),
            "due": lambda rows: rows.coming(self.today, self.asked["days"]),
            "overdue": lambda rows: rows.overdue(self.today),
            "booked": lambda rows: self.until(self.of_week(rows.booked())),
            "bench": lambda rows: rows.in_progress(),
            "countersign": self.to_countersign,
            "incomplete": lambda rows: self.since(rows.incomplete(), "signed_at"),
            "signed": lambda rows: self.since(rows.with_signature(), "signed_at"),
            "void": lambda rows: self.since(rows.void(), "voided_at"),
        }[name](self.inspections)

    def to_countersign(self, rows):
        """What awaits a second signature; for those who may give it, without what they signed themselves."""
        waiting = rows.awaiting_countersignature()
        return waiting.not_signed_by(self.person) if self.person.has_perm(COUNTERSIGN) else waiting

    def of_week(self, rows):
        week = self.asked["week"]
        if not week:
            return rows
        monday = week - timedelta(days=week.weekday())
        return rows.booked_between(monday, monday + timedelta(days=6))

    def until(self, rows):
        day = self.asked["until"]
        return rows.filter(booked_on__lte=day) if day else rows

    def since(self, rows, moment):
        day = self.asked["since"]
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
            "incomplete": "Incomplete",
            "signed": "Signed",
            "void": "Void",
        }

    def chosen(self, request):
        return choice_asked(request, "view", self.labels) or next(iter(self.labels))

    def counts(self):
        """How many there are under each heading, in one query; what is done for good is not counted."""
        counted = [name for name in self.labels if name not in ("signed", "incomplete", "void")]
        return counts_of({name: self.rows(name) for name in counted})


class WorkList(TableList):
    permission_required = "inspections.view_inspection"
    filterset_class = WorkFilter
    template_name = "inspections/work.html"
    export_headings = {"Location": "Place"}  # programs read this name

    def get_rows(self):
        return Inspection.objects.visible_to(self.request.user)

    def get_queryset(self):
        narrowed = super().get_queryset()
        self.tabs = Tabs(self.request.user, self.today, self.filterset.asked, narrowed)
        self.chosen = self.tabs.chosen(self.request)
        return self.tabs.rows(self.chosen)

    def complete(self, rows):
        rows = rows.with_place().select_related("signed_by").only(*COLUMNS)
        return rows.with_result() if self.get_table_class() is SignedTable else rows.with_last_attempt()

    def parts(self, rows):
        """Return what is due by stage: an index has each stage in the order of due dates, but not all of them."""
        return rows.by_stage() if self.chosen == "due" and not self.filterset.finds_few else [rows]

    def get_table_class(self):
        return TABLES.get(self.chosen, InspectionTable)

    def get_table_kwargs(self):
        return {"today": self.today, "empty_text": EMPTY[self.chosen]}

    def make_table(self, **kwargs):
        table = super().make_table(**kwargs)
        if self.get_table_class() is InspectionTable and not _may_book(self.request.user, self.chosen):
            table.columns.hide("select")
        if self.chosen in ("booked", "mine"):
            table.order_by = ("booked_on", "due_on")
        return table

    @property
    def export_name(self):
        return f"inspections-{self.chosen}"

    def get_context_data(self, **kwargs):
        person, counts = self.request.user, self._counts()
        known = {} if self.filterset.narrows else counts
        return super().get_context_data(
            tabs=[(name, words, counts.get(name), name == self.chosen) for name, words in self.tabs.labels.items()],
            chosen=self.chosen,
            hidden_filters=FILTERS_OF_SOME - FILTERS_OF.get(self.chosen, set()),
            empty=EMPTY[self.chosen],
            figures=work_figures(person, self.today, self.filterset.asked["days"], known),
            warnings=_warnings(person, self.today),
            bookings=bookings_by_week(self.get_rows(), self.today) if self.chosen == "booked" else None,
            booking_form=self._booking_form() if _may_book(person, self.chosen) else None,
            most_at_once=MOST_AT_ONCE,
            counted=COUNTED if self.filterset.finds_most else None,
            **kwargs,
        )

    def _counts(self):
        """Count under each heading, and set the length of the list.

        A search that finds most machines is counted up to COUNTED, and only under this heading.
        """
        if self.filterset.finds_most:
            number = self.object_list.order_by().values("pk")[: COUNTED + 1].count()
            self.total, self.is_cut = min(number, COUNTED), number > COUNTED
            return {}
        counts = self.tabs.counts()
        self.total = counts.get(self.chosen)
        return counts

    def _booking_form(self):
        """Return the form for what is ticked; the technicians of both forms are read once."""
        form = BookingForm(inspections=[], auto_id="booking_%s")
        narrowing, booking = (one.fields["technician"] for one in (self.filter_form, form))
        anybody, *technicians = narrowing.widget.choices
        narrowing.widget.choices = [anybody, *technicians]
        booking.widget.choices = [("", booking.empty_label), *technicians]
        return form


@permission_required("inspections.plan_inspection", raise_exception=True)
@require_POST
def book_many(request):
    """Book what was ticked in the list, or all that its filter keeps; what cannot be booked so is shown again.

    The query of the address is the filter of the list, which the way back keeps.
    """
    kept = f"?{request.GET.urlencode()}" if request.GET else ""
    back = f"{reverse('inspections:work')}{kept}"
    chosen = ChosenForm(_chosen(request), person=request.user)
    if not chosen.is_valid():
        messages.error(request, " ".join(chosen.errors["inspection"]))
        return redirect(back)
    inspections = chosen.cleaned_data["inspection"]
    form = BookingForm(request.POST, inspections=inspections)
    if form.is_valid():
        who = {name: form.cleaned_data[name] for name in ("technician", "booked_on")}
        try:
            book_inspections(inspections, by=request.user, at=timezone.now(), **who)
        except Refused as error:
            messages.error(request, f"{error} None was booked.")
            return redirect(back)
        day = day_words(who["booked_on"])
        messages.success(request, f"{len(inspections)} booked for {who['technician']} on {day}.")
        return redirect(back)
    return render(request, "inspections/book_many.html", {"form": form, "inspections": inspections, "kept": kept})


def _chosen(request):
    """What was sent, with every inspection that the filter of the list keeps instead of those ticked, if so asked."""
    if not request.POST.get("all"):
        return request.POST
    today = timezone.localdate()
    narrowed = WorkFilter(request.GET, Inspection.objects.visible_to(request.user), request=request)
    tabs = Tabs(request.user, today, narrowed.asked, narrowed.rows())
    data = request.POST.copy()
    rows = tabs.rows(tabs.chosen(request)).not_begun().order_by("due_on", "pk")
    data.setlist("inspection", [str(pk) for pk in rows.values_list("pk", flat=True)[: MOST_AT_ONCE + 1]])
    return data


def _may_book(person, chosen):
    return chosen in ("mine", "due", "overdue", "booked") and person.has_perm("inspections.plan_inspection")


def _warnings(person, today):
    areas = areas_with_minimum(Area.objects.visible_to(person))
    found = shortfalls(areas, today, today + timedelta(days=WARN_DAYS))
    return {"shown": found[:WARNINGS], "number": len(found), "more": max(0, len(found) - WARNINGS)}
