"""Answers to requests with a query value that is not accepted, and to those for a record that cannot be read."""

from django.shortcuts import render

from fleet.web.query_values import QueryRefused
from inspections.errors import RecordUnreadable

PAGES = {QueryRefused: ("400.html", 400), RecordUnreadable: ("record_unreadable.html", 500)}


class Refusals:
    """Answer what is refused before a page could be made with one that says why.

    Django's BadRequest writes the sentence into the log, and a query may hold personal data.
    """

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        return self.get_response(request)

    def process_exception(self, request, exception):
        for kind, (template, status) in PAGES.items():
            if isinstance(exception, kind):
                return render(request, template, {"said": str(exception)}, status=status)
        return None
