"""What pages agree on about requests."""

FORM_METHODS = ["GET", "HEAD", "POST"]  # a page with a form: looked at or sent
