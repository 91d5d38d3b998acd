"""How long components last: the list, setting one, ending one."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.web.form_methods import posted
from fleet.web.query_values import choice_asked, page_asked
from inspections.actions import end_component_life, set_component_life
from inspections.errors import Refused
from inspections.forms.planning_rules import EndForm, LifeForm
from inspections.models import ComponentLife

PER_PAGE = 25
may_write = permission_required("inspections.change_procedure", raise_exception=True)


@permission_required("inspections.view_procedure", raise_exception=True)
@require_safe
def component_lives(request):
    rows = ComponentLife.objects.with_scope()
    if not choice_asked(request, "view", ["all"]):
        rows = rows.not_ended(timezone.localdate())
    context = {"page": page_asked(request, rows, PER_PAGE), "may_change": _may_change(request.user)}
    return render(request, "inspections/component_lives.html", context)


@may_write
@require_http_methods(["GET", "POST"])
def component_life_add(request):
    form = LifeForm(posted(request), initial={"from_date": timezone.localdate()})
    if request.method == "POST" and form.is_valid():
        try:
            _refuse_narrowed(request.user)
            life = set_component_life(by=request.user, at=timezone.now(), **form.cleaned_data)
        except Refused as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, f"{life}: set.")
            return redirect("inspections:component_lives")
    return render(request, "inspections/component_life_add.html", {"form": form})


@may_write
@require_http_methods(["GET", "POST"])
def component_life_end(request, pk):
    life = get_object_or_404(ComponentLife.objects.with_scope(), pk=pk)
    form = EndForm(posted(request), initial={"until_date": max(timezone.localdate(), life.from_date)})
    if request.method == "POST" and form.is_valid():
        try:
            _refuse_narrowed(request.user)
            end_component_life(life, by=request.user, at=timezone.now(), **form.cleaned_data)
        except Refused as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, f"{life}: ends.")
            return redirect("inspections:component_lives")
    return render(request, "inspections/component_life_end.html", {"form": form, "life": life})


def _may_change(person):
    """The life of a kind reaches every site, so somebody limited to sites does not change it."""
    return person.has_perm("inspections.change_procedure") and not person.site_ids


def _refuse_narrowed(person):
    if not _may_change(person):
        raise Refused(
            "The life of a kind of component counts at every site, and you are limited to some. Ask a planner of all "
            "sites."
        )
