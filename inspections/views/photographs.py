"""Photographs: added, described and removed at the bench; shown wherever they belong."""

from csp.constants import NONE
from csp.decorators import csp
from django.contrib.auth.decorators import permission_required
from django.http import Http404
from django.shortcuts import get_object_or_404
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_safe

from fleet.export.download import file_response
from inspections.models import Photograph

DAY_S = 24 * 60 * 60
# A picture opened by itself is a page of its own: nothing in it may run, load or be framed.
PICTURE_POLICY = {"default-src": [NONE], "frame-ancestors": [NONE], "sandbox": True}
may_see = permission_required("inspections.view_inspection", raise_exception=True)


@require_safe
@may_see
@csp(PICTURE_POLICY)
@cache_control(private=True, max_age=DAY_S, immutable=True)
def photograph(request, pk):
    """The whole photograph as JPEG."""
    return _picture(request, pk, "content")


@require_safe
@may_see
@csp(PICTURE_POLICY)
@cache_control(private=True, max_age=DAY_S, immutable=True)
def photograph_preview(request, pk):
    """The photograph at most 640 pixels long."""
    return _picture(request, pk, "preview")


def _picture(request, pk, column):
    visible = Photograph.objects.visible_to(request.user).in_place()
    content = get_object_or_404(visible.with_pictures().only(column), pk=pk)
    data = getattr(content, column)
    if data is None:
        raise Http404
    response = file_response(f"photograph-{pk}.jpg", bytes(data), is_shown=True)
    response["Cross-Origin-Resource-Policy"] = "same-origin"
    return response
