"""Headers by which the service worker knows whose an answer is, and when it was given."""

import time

from fleet.web.device import PERSON, TIME, device_mark


class DeviceHeaders:
    """A page bears the time at which its request came, a change the time after it was made.

    So a page whose time is later than that of a change was made from it.
    """

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        request.came_at_ms = now_ms()
        response = self.get_response(request)
        # Only where the view asked who is signed in: nothing is looked up for this header.
        if hasattr(request, "_cached_user") and (mark := device_mark(request)):
            response.headers.setdefault(PERSON, mark)
            response.headers.setdefault(TIME, str(request.came_at_ms if request.method == "GET" else now_ms()))
        return response


def now_ms():
    return int(time.time() * 1000)
