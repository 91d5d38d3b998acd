"""Addresses of earlier versions, in bookmarks and printed papers: each leads to the page of today, with its query."""

from django.http import HttpResponsePermanentRedirect
from django.urls import path, reverse

EARLIER = {  # route of an earlier version -> name of the page
    "library/protections/": "protections",
    "machines/<int:pk>/protections/<slug:code>/": "fleet:feature_record",
    "machines/<int:pk>/circuit/parts/<slug:code>/replace/": "fleet:component_replace",
    "machines/<int:pk>/circuit/parts/<slug:code>/remove/": "fleet:component_take_out",
    "machines/<int:pk>/circuit/take-apart/": "fleet:circuit_disconnect",
}


def _leads_to(name):
    def redirect(request, **values):
        there, query = reverse(name, kwargs=values), request.META.get("QUERY_STRING", "")
        return HttpResponsePermanentRedirect(f"{there}?{query}" if query else there, preserve_request=True)

    return redirect


earlier_urls = (
    [path(route, _leads_to(name), name=name.rpartition(":")[2]) for route, name in EARLIER.items()],
    "earlier",
)
