"""Answers to requests with a query value that is not accepted."""

from django.shortcuts import render

from fleet.web.query_values import QueryRefused


class QueryRefusals:
    """Answer a refused query value with a page that says what is accepted.

    Django's BadRequest writes the sentence into the log, and a query may hold personal data.
    """

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        return self.get_response(request)

    def process_exception(self, request, exception):
        if isinstance(exception, QueryRefused):
            return render(request, "400.html", {"said": str(exception)}, status=400)
        return None
