"""The list of inspections: what falls due, what is booked, what waits."""

from datetime import timedelta

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from fleet.models import Area, Machine
from fleet.models.querysets.among_keys import among
from fleet.views.keys_first import Groups
from fleet.views.lists import TableList
from fleet.web.at_site import day_words
from fleet.web.query_values import choice_asked
from inspections.actions import book_inspections
from inspections.errors import Refused
from inspections.forms.work import MOST_AT_ONCE, BookingForm, ChosenForm, WorkFilter
from inspections.kept.work_figures import work_figures
from inspections.kept_counts.work_counts import counted_signed
from inspections.models import Inspection
from inspections.schedule.area_minimums import areas_with_minimum_of, shortfalls
from inspections.schedule.bookings import bookings_by_week
from inspections.schedule.headings import Headings
from inspections.tables.bookings import booking_rows
from inspections.tables.work import COLUMNS, InspectionTable, SignedTable, VoidTable

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
# Orders that no index of inspections has, by what has them: machines by their number, and the few areas by their names.
GROUPS = {
    ("machine__asset_number", "pk"): Groups(
        Machine._base_manager.order_by("asset_number"),
        lambda rows, machines: rows.filter(among("machine", machines)),
        sizes=(250, 2_000),
    ),
    ("machine__area__site__name", "machine__area__name", "pk"): Groups(
        Area.objects.order_by("site__name", "name"),
        lambda rows, areas: rows.filter(machine__in=Machine._base_manager.filter(area__in=areas).values("pk")),
        sizes=(1, 2, 4, 8),
    ),
}
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


def chosen_heading(request, headings):
    return choice_asked(request, "view", headings.labels) or next(iter(headings.labels))


class WorkList(TableList):
    permission_required = "inspections.view_inspection"
    filterset_class = WorkFilter
    template_name = "inspections/work.html"
    groups = GROUPS
    export_headings = {"Location": "Place"}  # programs read this name

    def get_rows(self):
        return Inspection.objects.visible_to(self.request.user)

    def get_queryset(self):
        narrowed = super().get_queryset()
        self.headings = Headings(self.request.user, self.today, self.filterset.asked, narrowed)
        self.chosen = chosen_heading(self.request, self.headings)
        return self._under(self.chosen)

    def _under(self, heading):
        """Return the rows under a heading, asked for by that of their columns which leaves the fewest."""
        if sites := self.filterset.all_of_sites:
            return self.headings.among(Inspection.objects.of_sites(sites)).rows(heading)
        return self.headings.rows(heading, by_machine=self.filterset.is_of_few_machines)

    def complete(self, rows):
        rows = rows.with_place().select_related("signed_by").only(*COLUMNS)
        return rows.with_result() if self.get_table_class() is SignedTable else rows.with_last_attempt()

    def parts(self, rows):
        """Return what is due by stage: an index has each stage in the order of due dates, but not all of them."""
        return rows.by_stage() if self.chosen == "due" and not self.filterset.is_of_few_machines else [rows]

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
        bookings = bookings_by_week(self.get_rows(), self.today) if self.chosen == "booked" else None
        known = {} if self.filterset.narrows else counts
        return super().get_context_data(
            tabs=[(name, words, counts.get(name), name == self.chosen) for name, words in self.headings.labels.items()],
            chosen=self.chosen,
            hidden_filters=FILTERS_OF_SOME - FILTERS_OF.get(self.chosen, set()),
            empty=EMPTY[self.chosen],
            figures=work_figures(person, self.today, self.filterset.asked["days"], known),
            warnings=_warnings(person, self.today),
            bookings=bookings,
            booking_rows=booking_rows(bookings) if bookings else "",
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
        counts = self.headings.counts(at_once=self.filterset.is_by_machine, sites=self.filterset.all_of_sites)
        self.total = counts.get(self.chosen)
        if self.chosen == "signed" and self.filterset.all_of_sites is not None and not self.filterset.asked["since"]:
            self.total = counted_signed(self.filterset.all_of_sites)
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
    headings = Headings(request.user, today, narrowed.asked, narrowed.rows())
    data = request.POST.copy()
    rows = headings.rows(chosen_heading(request, headings)).not_begun().order_by("due_on", "pk")
    data.setlist("inspection", [str(pk) for pk in rows.values_list("pk", flat=True)[: MOST_AT_ONCE + 1]])
    return data


def _may_book(person, chosen):
    return chosen in ("mine", "due", "overdue", "booked") and person.has_perm("inspections.plan_inspection")


def _warnings(person, today):
    found = shortfalls(areas_with_minimum_of(person), today, today + timedelta(days=WARN_DAYS))
    return {"shown": found[:WARNINGS], "number": len(found), "more": max(0, len(found) - WARNINGS)}
