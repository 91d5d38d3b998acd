"""A page of which htmx may ask for one section alone."""

from django.shortcuts import render
from django.utils.cache import patch_vary_headers


def wants_part(request):
    """Return whether htmx asks for the section; where it restores a page from history, it needs the whole page."""
    return bool(request.htmx) and not request.htmx.history_restore_request


def vary_by_part(response):
    """Tell caches that the same address has two answers."""
    patch_vary_headers(response, ["HX-Request"])
    return response


def render_page_or_part(request, page, part, context):
    """Return the whole page, or for htmx the section of the template `part`."""
    return vary_by_part(render(request, part if wants_part(request) else page, context))
