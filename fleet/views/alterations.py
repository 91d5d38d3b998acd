"""Planned alterations: the list, planning one, its page, its files, and carrying it out on each machine."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.actions import add_to_alteration, plan_alteration
from fleet.altering.job import request_effects
from fleet.altering.paper import CAUTIONS, write_alteration_paper
from fleet.altering.shown_plan import CSV_HEADER, ShownPlan
from fleet.drawing import to_svg
from fleet.drawing.before_after import before_and_after, describe_before_and_after
from fleet.errors import Refused
from fleet.export.download import csv_download, file_response
from fleet.forms.alterations import AlterationFilter, AlterationForm, ChosenMachinesForm, plan_fields
from fleet.forms.machines import MachineFilter
from fleet.models import AlterationPlan, Machine
from fleet.tables.alterations import AlterationTable
from fleet.views.lists import TableList
from fleet.web.at_site import as_shown_to
from fleet.web.form_methods import FORM_METHODS, posted
from fleet.web.inline_svg import inline_svg
from fleet.web.query_values import choice_asked, page_asked

PER_PAGE = 25
VIEW, ADD = "fleet.view_alterationplan", "fleet.add_alterationplan"
COMPUTE = "fleet.compute_circuitcover"
EXPORT = "fleet.export_register"
SHOWN = {
    "all": ("All", lambda rows: rows),
    "planned": ("Left to do", lambda rows: rows.planned()),
    "done": ("Carried out", lambda rows: rows.filter(state="carried out")),
    "left-out": ("Left out", lambda rows: rows.filter(state="left out")),
}


class AlterationList(TableList):
    permission_required = VIEW
    filterset_class = AlterationFilter
    table_class = AlterationTable
    template_name = "fleet/alterations.html"
    export_name = "alterations"

    def get_rows(self):
        return AlterationPlan.objects.visible_to(self.request.user).with_counts(self.request.user)


@permission_required(ADD, raise_exception=True)
@require_http_methods(FORM_METHODS)
def alteration_add(request):
    """Choose machines by the filter of the register (in the address), then say what is altered and why."""
    filtered, machines = _chosen(request)
    number = machines.count()
    form = AlterationForm(posted(request), initial={"from_date": timezone.localdate(), "seen": number})
    if request.method == "POST" and form.is_valid():
        plan = _done(form, number, lambda: plan_alteration(
            machines=list(machines), by=request.user, at=timezone.now(), **plan_fields(form)))  # fmt: skip
        if plan:
            messages.success(request, f"“{plan}” is planned on {number} machine{'' if number == 1 else 's'}.")
            return _computed(request, plan)
    context = {"form": form, **_choosing(request, filtered, machines), "cautions": CAUTIONS}
    return render(request, "fleet/alteration_add.html", context)


@permission_required(ADD, raise_exception=True)
@require_http_methods(FORM_METHODS)
def alteration_machines(request, pk):
    """Add machines that the filter leaves."""
    plan = _plan(request, pk)
    filtered, machines = _chosen(request)
    machines = machines.exclude(alterations__plan=plan)
    number = machines.count()
    form = ChosenMachinesForm(posted(request), initial={"seen": number})
    if request.method == "POST" and form.is_valid():
        added = _done(form, number, lambda: add_to_alteration(
            plan, list(machines), by=request.user, at=timezone.now()))  # fmt: skip
        if added:
            messages.success(request, f"{added} machine{'' if added == 1 else 's'} added.")
            return _computed(request, plan)
    context = {"form": form, "plan": plan, **_choosing(request, filtered, machines)}
    return render(request, "fleet/alteration_machines.html", context)


@permission_required(VIEW, raise_exception=True)
@require_safe
def alteration(request, pk):
    """What it changes and takes, its picture, and its machines a page at a time."""
    plan = _plan(request, pk)
    shown = ShownPlan(plan, request.user, timezone.localdate())
    chosen = choice_asked(request, "show", SHOWN, "all")
    svg = to_svg(before_and_after(shown.pairs), "Open causes before and after", describe_before_and_after(shown.pairs))
    context = {
        "plan": plan,
        "shown": shown,
        "picture": inline_svg(svg) if shown.pairs else "",
        "page": page_asked(request, SHOWN[chosen][1](shown.rows).with_place(), PER_PAGE),
        "tabs": [(name, label, name == chosen) for name, (label, _) in SHOWN.items()],
        "cautions": (plan.entry.caution, *CAUTIONS),
    }
    return render(request, "fleet/alteration.html", context)


@permission_required((VIEW, COMPUTE), raise_exception=True)
@require_POST
def alteration_compute(request, pk):
    return redirect(request_effects(_plan(request, pk), by=request.user, at=timezone.now()))


@permission_required((VIEW, EXPORT), raise_exception=True)
@require_safe
def alteration_csv(request, pk):
    """Send every machine with its state, what it changes there, and what it takes."""
    plan = _plan(request, pk)
    shown = ShownPlan(plan, request.user, timezone.localdate())
    rows = (shown.csv_row(row) for row in shown.rows.with_place().iterator(chunk_size=500))
    return csv_download(f"alteration-{plan.pk}.csv", CSV_HEADER, rows)


@permission_required(VIEW, raise_exception=True)
@require_safe
def alteration_pdf(request, pk):
    plan = _plan(request, pk)
    today = timezone.localdate()
    with as_shown_to(request.user):
        made = f"Made for {request.user}, {today}"
        content = write_alteration_paper(ShownPlan(plan, request.user, today), made=made)
    return file_response(f"alteration-{plan.pk}.pdf", content, is_shown=True)


def _plan(request, pk):
    return get_object_or_404(AlterationPlan.objects.visible_to(request.user).select_related("by"), pk=pk)


def _chosen(request):
    """Return the filter of the address, and the machines that it leaves."""
    rows = Machine.objects.with_place().visible_to(request.user).order_by("asset_number")
    filtered = MachineFilter(request.GET, rows, request=request)
    return filtered, filtered.rows()


def _choosing(request, filtered, machines):
    page = page_asked(request, machines, PER_PAGE)
    return {"filter_form": filtered.form, "page": page, "number": page.paginator.count}


def _done(form, number, act):
    """Act if the page showed as many machines as there are now; None else, and after a refusal."""
    if form.cleaned_data["seen"] != number:
        form.add_error(
            None, f"The filter now leaves {number} machines; the page showed {form.cleaned_data['seen']}. "
            "Look at them and send the form again.",
        )  # fmt: skip
        form.data = form.data.copy()
        form.data["seen"] = str(number)
        return None
    try:
        return act()
    except Refused as refused:
        form.add_error(None, str(refused))
        return None


def _computed(request, plan):
    """Go to the job that computes what the alteration changes, for whoever may request it; else to the plan."""
    if request.user.has_perm(COMPUTE):
        request_effects(plan, by=request.user, at=timezone.now())
    return redirect(plan)
