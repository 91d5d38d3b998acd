"""Around the API: errors as problem details, an ETag on every answer to GET, and no storage in shared caches."""

from django.utils.cache import get_conditional_response, patch_cache_control, patch_vary_headers, set_response_etag

from fleet.api.problems import MEDIA_TYPE, problem_response

PREFIX = "/api/"
DETAILS = {
    400: "The request cannot be read.",
    404: "There is nothing at this address. /library/api/ lists the addresses.",
    405: "This address does not accept that method; see Allow.",
    500: "An error occurred on the server. It is logged under the request_id.",
    503: "A service that this request needs does not respond or is busy. Send the request again after "
    "Retry-After seconds.",
}


class ApiAnswers:
    """The outermost middleware of the API, so that it also handles errors before a view is found."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        response = self.get_response(request)
        if not request.path_info.startswith(PREFIX):
            return response
        if response.status_code >= 400 and response["Content-Type"] != MEDIA_TYPE:
            response = _as_problem(request, response)
        patch_vary_headers(response, ["Authorization"])
        patch_cache_control(response, private=True, no_cache=True)
        if request.method == "GET" and response.status_code == 200:
            set_response_etag(response)
            return get_conditional_response(request, etag=response["ETag"], response=response)
        return response


def _as_problem(request, response):
    problem = problem_response(request, response.status_code, DETAILS.get(response.status_code, response.reason_phrase))
    for name in ("Allow", "Retry-After"):
        if response.has_header(name):
            problem[name] = response[name]
    return problem
