"""What the views of safety notices share: the notice of an address, who acts and when, and a form that acts."""

from django.shortcuts import get_object_or_404
from django.utils import timezone

from inspections.errors import Refused
from inspections.models import SafetyNotice


def visible_notice(request, pk):
    rows = SafetyNotice.objects.visible_to(request.user).select_related(
        "calibration__instrument", "entered_by", "closed_by"
    )
    return get_object_or_404(rows, pk=pk)


def who(request):
    return {"by": request.user, "at": timezone.now()}


def acted(request, form, act):
    """Act if the form was sent and is valid, and return what that returns; None else, a refusal is on the form."""
    if request.method != "POST" or not form.is_valid():
        return None
    try:
        return act()
    except Refused as refused:
        form.add_error(None, str(refused))
        return None
