"""Which instruments are good enough for the work, said before it begins."""

from types import SimpleNamespace

from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.models import Site
from fleet.web.at_site import show_as_site
from fleet.web.query_values import choice_asked
from inspections.at_bench.limits_here import LimitsHere
from inspections.at_bench.needed_instruments import AskedStep, needed_instruments, steps_of_content
from inspections.at_bench.step_content import lacked_by_step
from inspections.bench import TESTS, Limit
from inspections.bench.rules import rules_that_apply
from inspections.models import Procedure
from inspections.views.at_site import render_at_site, visible_inspection


@permission_required(["inspections.view_inspection", "fleet.view_instrument"], raise_exception=True)
@require_safe
def inspection_instruments(request, pk):
    """Of an open inspection: by the limits of its machine, with the instruments of its site."""
    found = visible_inspection(request, pk, "version")
    if not found.is_open:
        return redirect(found)
    site = found.machine.site
    today = site.date_of(timezone.now())
    limits = LimitsHere(found.machine, today)
    steps = _steps_of(found, limits)
    needed = needed_instruments(steps, site, today)
    context = {"inspection": found, "machine": found.machine, "needed": needed}
    return render_at_site(request, site, "inspections/inspection_instruments.html", context)


def _steps_of(inspection, limits):
    """The steps of an inspection in progress; before, those of the procedure as it is in force."""
    if inspection.is_in_progress:
        steps = inspection.steps.that_apply().filter(as_left_of=None)
        known = [one for one in steps if one.test_code in TESTS]
        return [AskedStep(str(one), one.test_code, limits.judges(one), lacked_by_step(one)) for one in known]
    version = inspection.version or inspection.procedure.current_version()
    return steps_of_content(version.content, lambda step: limits.judges(_as_step(step))) if version else []


def _as_step(content):
    return SimpleNamespace(content=content, test_code=content["test"])


@permission_required(["inspections.view_procedure", "fleet.view_instrument"], raise_exception=True)
@require_safe
def procedure_instruments(request, pk):
    """Of the version in force, by the rules of the site that the address names, else of the first."""
    procedure = get_object_or_404(Procedure, pk=pk)
    sites = {str(site.pk): site for site in Site.objects.visible_to(request.user).order_by("name")}
    asked = choice_asked(request, "site", list(sites), next(iter(sites), None))
    version, needed, site = procedure.current_version(), [], sites.get(asked)
    if site and version:
        show_as_site(site)
        steps = steps_of_content(version.content, lambda step: _published(step, site))
        needed = needed_instruments(steps, site, site.date_of(timezone.now()))
    context = {"procedure": procedure, "sites": sites.values(), "chosen": site, "needed": needed}
    return render(request, "inspections/procedure_instruments.html", context)


def _published(step, site):
    """The limits of a step for a machine of unknown year, by the site's set of rules."""
    offered = [Limit(**limit) for limit in step.get("limits", [])]
    found = {}
    for spec in TESTS[step["test"]].results:
        named = step.get("rules", {}).get(spec.key)
        limits = rules_that_apply(offered, spec.key, rule_set=site.rule_set, built_year=None, named=named)
        if limits:
            found[spec.key] = tuple(limits)
    return found
