"""What pages agree on about requests."""

FORM_METHODS = ["GET", "HEAD", "POST"]  # a page with a form: looked at or sent


def posted(request):
    """The sent data of a form, or None when the form is only looked at: an empty form that is sent is still sent."""
    return request.POST if request.method == "POST" else None
