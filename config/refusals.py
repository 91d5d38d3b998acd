"""Answers to requests whose address asks for what is not accepted."""

from django.shortcuts import render

from fleet.web.query_values import QueryRefused


class QueryRefusals:
    """Answers with a page that says what is accepted.

    Django's own way, BadRequest, writes the sentence into the log, and a query may hold what no log should.
    """

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        return self.get_response(request)

    def process_exception(self, request, exception):
        if isinstance(exception, QueryRefused):
            return render(request, "400.html", {"said": str(exception)}, status=400)
        return None
