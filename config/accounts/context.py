"""The session data that every page passes to its script."""

from django.conf import settings


def session(request):
    """Context processor: how long a session lasts without a request, and how long before that the page warns."""
    if not getattr(request, "user", None) or not request.user.is_authenticated:
        return {}
    return {
        "session_seconds": settings.SESSION_COOKIE_AGE,
        "session_warning": min(settings.SESSION_WARNING_SECONDS, settings.SESSION_COOKIE_AGE // 2),
    }
