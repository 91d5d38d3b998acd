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
    """The innermost middleware. The last try is left to Django, whose handling of errors then applies."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        return self.get_response(request)

    def process_view(self, request, view_func, args, kwargs):
        end = time.monotonic() + PATIENCE_S
        for _ in range(MORE_TRIES):
            try:
                return view_func(request, *args, **kwargs)
            except OperationalError as error:
                if not is_contended(error) or request.commits.any or time.monotonic() > end:
                    raise
            logger.info("A request lost a race for the database and is tried again")
            rewind_files(request)
            time.sleep(random.uniform(*PAUSE_S))
        return None


def rewind_files(request):
    """Rewind the files of a request that were read."""
    for _, files in getattr(request, "_files", {}).lists() if hasattr(request, "_files") else ():
        for file in files:
            file.seek(0)
