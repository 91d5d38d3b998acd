"""What another limit would have made of the signed results."""

from django.contrib.auth.decorators import permission_required
from django.shortcuts import render
from django.views.decorators.http import require_safe

from fleet.web.query_values import page_asked
from inspections.at_bench.limit_texts import limit_text, result_text
from inspections.deciding.other_limit import MOST, under_other_limit
from inspections.forms.other_limit import OtherLimitForm
from inspections.models import Result

PER_PAGE = 25
ASKED = ("result", "rule", "lower", "upper", "unit")


@permission_required(["inspections.view_procedure", "inspections.view_inspection"], raise_exception=True)
@require_safe
def other_limit(request):
    """Nothing is stored: the limit is in the address, so that it can be sent to somebody else."""
    asked = {name: request.GET.get(name, "") for name in ASKED}
    form = OtherLimitForm(asked if any(asked.values()) else None)
    context = {"form": form, "most": MOST}
    if form.is_bound and form.is_valid():
        context |= _found(request, form.cleaned_data["test_code"], form.cleaned_data["limit"])
    return render(request, "inspections/other_limit.html", context)


def _found(request, test_code, limit):
    found = under_other_limit(request.user, test_code, limit)
    page = page_asked(request, found.failing, PER_PAGE)
    rows = Result.objects.filter(pk__in=list(page)).select_related("step__inspection__machine").latest_first()
    return {
        "found": found,
        "page": page,
        "failing": rows,
        "title": result_text(test_code, limit.key),
        "demand": limit_text(limit),
    }
