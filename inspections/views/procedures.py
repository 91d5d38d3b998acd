"""The library: procedures with their frozen versions, and the bench tests as they declare themselves."""

from django.contrib.auth.decorators import permission_required
from django.http import Http404
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.catalogue import COMPONENT_KINDS, FEATURES
from inspections.at_bench.conditional_results import conditional_rule_of
from inspections.at_bench.failure_coverage import coverage_of_models, says_what_it_finds
from inspections.at_bench.limit_texts import built_text, limit_text
from inspections.at_bench.step_content import is_repeated_after, on_which_machines, worded
from inspections.bench import TESTS, Limit, choose_limit
from inspections.models import PlanningRule, Procedure, ProcedureDraft, ProcedureVersion
from inspections.planning.rule_choice import ORDER_WORDS
from inspections.procedure_editing.feature_coverage import feature_coverage
from inspections.result_display import BASES
from inspections.schedule.rule_preview import winners

MOST_DRAFTS = 100
MOST_RULES = 50
can_read = permission_required("inspections.view_procedure", raise_exception=True)


@can_read
@require_safe
def procedures(request):
    listed = Procedure.objects.with_newest_version(timezone.localdate()).with_rule_count(timezone.localdate())
    drafts = ProcedureDraft.objects.being_written().with_people()[:MOST_DRAFTS]
    return render(request, "inspections/procedures.html", {"procedures": listed, "drafts": drafts})


@can_read
@require_safe
def procedure(request, pk):
    """One version of a procedure, the one in force unless another is asked for by number."""
    found = get_object_or_404(Procedure, pk=pk)
    rows = ProcedureVersion.objects.filter(procedure=found).defer("content", "draft__content")
    versions, today = list(rows.select_related("draft", "proposed_by", "approved_by")), timezone.localdate()
    in_force = next((one for one in versions if one.has_begun(today)), None)
    number = request.GET.get("version", "")
    asked = next((one for one in versions if str(one.number) == number), None) if number else in_force
    if number and asked is None:
        raise Http404(f"{found} has no version {number}.")
    asked = asked or next(iter(versions), None)
    context = {"procedure": found, "version": asked, "versions": versions, "in_force": in_force, "today": today}
    context |= _planned_where(request.user, found, today)
    if asked:
        context["steps"] = [_step(content) for content in asked.content["step"]]
        context["not_tested_here"] = _not_tested_here(asked.content)
        context["coverage"] = feature_coverage(asked.content)
        context["begins_later"] = not in_force or asked.number > in_force.number
        if finds := says_what_it_finds(asked.content):
            context |= {"says_what_it_finds": finds, "failure_coverage": coverage_of_models(asked.content)}
    return render(request, "inspections/procedure.html", context)


@can_read
@require_safe
def tests(request):
    families = {}
    for test in TESTS.values():
        families.setdefault(test.family, []).append(test)
    return render(request, "inspections/tests.html", {"families": families})


@can_read
@require_safe
def test(request, code):
    if code not in TESTS:
        raise Http404(f"There is no bench test {code}.")
    found = TESTS[code]
    results = [
        {"spec": spec, "limits": [_limit(one) for one in found.default_limits if one.key == spec.key]}
        for spec in found.results
    ]
    return render(request, "inspections/test.html", {"test": found, "results": results})


def _planned_where(person, procedure, today):
    """The rules in force for a procedure, the most specific first, each with how many machines it wins on."""
    rules = PlanningRule.objects.visible_to(person).in_force(today).filter(procedure=procedure).with_scope()
    shown = sorted(rules[:MOST_RULES], key=lambda one: one.as_rule.rank)
    number = winners(procedure, today) if shown else {}
    listed = [(one, number.get(one.pk, 0)) for one in shown]
    return {"rules": listed, "without_rule": number.get(None, 0), "order_words": ORDER_WORDS}


def _step(content):
    """A step of a version with what decides whether it applies, and its limits in words, the applied ones first."""
    limits = [Limit(**limit) for limit in content.get("limits", [])]
    rules = content.get("rules", {})
    named = {choose_limit(limits, key, rule=rule) for key, rule in rules.items()}
    shown = [_limit(one, is_named=one in named) for one in limits if one.key not in rules or one in named]
    return {
        "content": worded(content),
        "when": on_which_machines(content),
        "repeated_after": _repeated_after(content),
        "conditional": conditional_rule_of(content),
        "limits": shown,
        "test": TESTS.get(content["test"]),
    }


def _limit(limit, is_named=False):
    return {
        "limit": limit,
        "demand": limit_text(limit),
        "built": built_text(limit),
        "basis": BASES[limit.basis] or "source read",
        "is_named": is_named,
    }


def _repeated_after(content):
    """The kinds of component after whose repair a retest repeats the step, in words."""
    kinds = [kind.name.lower() for code, kind in COMPONENT_KINDS.items() if is_repeated_after(content, code)]
    return ", ".join(kinds)


def _not_tested_here(content):
    """The safety features that the procedure does not test, with the reason of each group."""
    entries = content.get("not_tested_here", [])
    return [
        {"features": [FEATURES[code].name for code in entry["features"] if code in FEATURES], "reason": entry["reason"]}
        for entry in entries
    ]
