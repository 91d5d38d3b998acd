"""Conventions of pages about requests."""

FORM_METHODS = ["GET", "HEAD", "POST"]  # methods of a page with a form


def posted(request):
    """Return the sent data of a form, or None if it is only shown: an empty form that is sent counts as sent."""
    return request.POST if request.method == "POST" else None
