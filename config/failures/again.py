"""Call a view again when it lost a race for the database and had changed nothing yet."""

import logging
import random
import time

from django.db import OperationalError

from config.failures.kinds import is_contended

MORE_TRIES = 3
PATIENCE_S = 10.0  # seconds; a request that waited this long is answered 503 instead of tried again
PAUSE_S = (0.05, 0.25)
logger = logging.getLogger("bobbin.again")


class TryAgain:
    """The innermost middleware. What fails in the end is left to Django, whose handling of errors then applies."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        return self.get_response(request)

    def process_view(self, request, view_func, args, kwargs):
        request.patience_ends = time.monotonic() + PATIENCE_S

    def process_exception(self, request, exception):
        match = request.resolver_match
        for _ in range(MORE_TRIES):
            if not self._may_try(request, exception):
                return None
            logger.info("A request conflicted with another one in the database and is repeated")
            rewind_files(request)
            time.sleep(random.uniform(*PAUSE_S))
            try:
                return match.func(request, *match.args, **match.kwargs)
            except OperationalError as error:
                exception = error
        return None

    @staticmethod
    def _may_try(request, error):
        is_lost_race = isinstance(error, OperationalError) and is_contended(error)
        return is_lost_race and not request.commits.any and time.monotonic() <= request.patience_ends


def rewind_files(request):
    """Rewind the files of a request that were read."""
    for _, files in getattr(request, "_files", {}).lists() if hasattr(request, "_files") else ():
        for file in files:
            file.seek(0)
