"""The library: procedures with their frozen versions, and the bench tests as they declare themselves."""

from django.contrib.auth.decorators import permission_required
from django.http import Http404
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from fleet.catalogue import COMPONENT_KINDS, FEATURES, GASES
from inspections.at_bench.limit_texts import built_text, limit_text
from inspections.bench import TESTS, Limit, choose_limit
from inspections.models import Procedure, ProcedureVersion
from inspections.result_display import BASES

can_read = permission_required("inspections.view_procedure", raise_exception=True)


@can_read
@require_safe
def procedures(request):
    listed = Procedure.objects.with_newest_version()
    return render(request, "inspections/procedures.html", {"procedures": listed})


@can_read
@require_safe
def procedure(request, pk):
    """One version of a procedure, the newest unless another is asked for by number."""
    found = get_object_or_404(Procedure, pk=pk)
    versions = list(ProcedureVersion.objects.filter(procedure=found).defer("content"))
    number = request.GET.get("version", "")
    asked = next((one for one in versions if str(one.number) == number), None) if number else next(iter(versions), None)
    if number and asked is None:
        raise Http404(f"{found} has no version {number}.")
    steps = [_step(content) for content in asked.content["step"]] if asked else []
    context = {"procedure": found, "version": asked, "versions": versions, "steps": steps}
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


def _step(content):
    """A step of a version with what decides whether it applies, and its limits in words, the applied ones first."""
    limits = [Limit(**limit) for limit in content.get("limits", [])]
    rules = content.get("rules", {})
    named = {choose_limit(limits, key, rule=rule) for key, rule in rules.items()}
    shown = [_limit(one, is_named=one in named) for one in limits if one.key not in rules or one in named]
    return {"content": content, "when": _when(content), "limits": shown, "test": TESTS.get(content["test"])}


def _limit(limit, is_named=False):
    return {
        "limit": limit,
        "demand": limit_text(limit),
        "built": built_text(limit),
        "basis": BASES[limit.basis] or "source read",
        "is_named": is_named,
    }


def _when(content):
    """On which machines the step is done."""
    conditions = []
    if content.get("feature") in FEATURES:
        conditions.append(f"unless recorded as not fitted: {FEATURES[content['feature']].name.lower()}")
    if content.get("component") in COMPONENT_KINDS:
        conditions.append(f"for each {COMPONENT_KINDS[content['component']].name.lower()}")
    if content.get("gas") in GASES:
        conditions.append(f"on machines that give {GASES[content['gas']].name.lower()}")
    if content.get("each"):
        conditions.append("for each gas other than oxygen")
    return "; ".join(conditions) or "on every machine"
