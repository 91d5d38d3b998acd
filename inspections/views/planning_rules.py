"""Planning rules: the list, adding one with its preview, ending one; and the planning of one machine."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.machine_page.head import head_today
from fleet.views.machines import visible_machine
from fleet.web.form_methods import posted
from fleet.web.query_values import accepted_fields, page_asked
from inspections.actions import add_planning_rule, end_planning_rule
from inspections.errors import Refused
from inspections.forms.planning_rules import EndForm, RuleFilter, RuleForm
from inspections.models import PlanningRule
from inspections.on_machine_page.planning import machine_planning
from inspections.planning.rule_choice import ORDER_WORDS
from inspections.schedule.rule_preview import preview_of_adding, preview_of_ending

PER_PAGE = 25
can_read = permission_required("inspections.view_procedure", raise_exception=True)
may_write = permission_required("inspections.change_procedure", raise_exception=True)


@can_read
@require_safe
def planning_rules(request):
    """List the rules, those in force and to come unless the ended ones are asked for."""
    form = RuleFilter(request.GET)
    asked, today = accepted_fields(form), timezone.localdate()
    rows = PlanningRule.objects.visible_to(request.user).with_scope()
    rows = rows if asked["view"] else rows.not_ended(today)
    rows = rows.filter(procedure=asked["procedure"]) if asked["procedure"] else rows
    rows = rows.filter(reach=asked["reach"]) if asked["reach"] else rows
    page = page_asked(request, rows, PER_PAGE)
    changeable = set(
        PlanningRule.objects.changeable_by(request.user)
        .filter(pk__in=[one.pk for one in page])
        .values_list("pk", flat=True)
    )
    context = {"form": form, "page": page, "changeable": changeable, "today": today, "order_words": ORDER_WORDS}
    return render(request, "inspections/planning_rules.html", context)


@may_write
@require_http_methods(["GET", "POST"])
def planning_rule_add(request):
    """The form is shown once more with what the rule would do; sent again unchanged, the rule is added."""
    initial = {"procedure": request.GET.get("procedure", ""), "from_date": timezone.localdate()}
    form = RuleForm(posted(request), person=request.user, initial=initial)
    context = {"form": form, "order_words": ORDER_WORDS}
    if request.method == "POST" and form.is_valid():
        if request.POST.get("previewed") == form.token:
            added = _added(request, form)
            if added:
                return added
        else:
            preview = preview_of_adding(form.unsaved_rule, timezone.localdate())
            context |= {"preview": preview, "effects": preview.effects, "previewed": form.token}
    return render(request, "inspections/planning_rule_add.html", context)


def _added(request, form):
    """Add the rule. Return the way on, None if it was refused."""
    try:
        rule, moved = add_planning_rule(by=request.user, at=timezone.now(), **form.fields_of_rule)
    except Refused as error:
        form.add_error(None, str(error))
        return None
    messages.success(request, f"{rule} is added. {moved.words}")
    return redirect(f"{reverse('inspections:planning_rules')}?procedure={rule.procedure_id}")


@may_write
@require_http_methods(["GET", "POST"])
def planning_rule_end(request, pk):
    rule = get_object_or_404(PlanningRule.objects.changeable_by(request.user).with_scope(), pk=pk)
    today = timezone.localdate()
    form = EndForm(posted(request), initial={"until_date": max(today, rule.from_date)})
    if request.method == "POST" and form.is_valid():
        try:
            moved = end_planning_rule(rule, by=request.user, at=timezone.now(), **form.cleaned_data)
        except Refused as error:
            form.add_error(None, str(error))
            rule.refresh_from_db()
        else:
            messages.success(request, f"{rule} ends. {moved.words}")
            return redirect(f"{reverse('inspections:planning_rules')}?procedure={rule.procedure_id}")
    context = {"form": form, "rule": rule, "effects": preview_of_ending(rule, today)}
    return render(request, "inspections/planning_rule_end.html", context)


@permission_required("inspections.view_inspection", raise_exception=True)
@require_safe
def planning_of_machine(request, pk):
    """Which procedures are planned on a machine, by which rule, which rules lost, and when its components are due."""
    machine = visible_machine(request, pk)
    found = machine_planning(machine, timezone.localdate())
    page = page_asked(request, found.lines, PER_PAGE)
    context = {**head_today(machine, "Planning"), "page": page, "parts": found.parts, "order_words": ORDER_WORDS}
    return render(request, "inspections/machine_planning.html", context)
