"""Access to the API: a token in the Authorization header, never a session cookie, with a limit of requests."""

import logging
import threading
from datetime import timedelta

from django.conf import settings
from django.utils import timezone
from ninja.security import HttpBearer
from ninja.throttling import AuthRateThrottle

from fleet.actions import note_token_use
from fleet.api.problems import Refusal
from fleet.late.services import redis
from fleet.models import ApiToken

log = logging.getLogger(__name__)


class Token(HttpBearer):
    """Accepts a token whose group holds `permission`; `request.auth` is then the token.

    A secret cannot be guessed (256 random bits), so refused requests are not counted.
    """

    def __init__(self, permission):
        super().__init__()
        self.permission = permission

    def __call__(self, request):
        if "Authorization" not in request.headers:
            raise Refusal(401, "Send a token: “Authorization: Bearer …”. The person who manages accounts requests one.")
        return super().__call__(request) or _refuse(
            "The Authorization header must contain “Bearer” followed by the token."
        )

    def authenticate(self, request, secret):
        token, today = ApiToken.objects.with_secret(secret).first(), timezone.localdate()
        reason = refusal_of(token, today)
        if reason:
            _refuse(reason)
        if not token.may(self.permission):
            raise Refusal(403, f"This token acts for the group {token.group}, which lacks {self.permission}.")
        note_token_use(token, today=today)
        return token


def refusal_of(token, today):
    """Return why a token is not accepted, in a sentence; empty for one that is."""
    if token is None:
        return "This token does not exist."
    if token.is_revoked:
        return f"The token “{token}” is revoked."
    if not token.is_confirmed and not token.predates_confirmation:
        return f"The token “{token}” is not confirmed. {token.owner} confirms it on the page “My tokens”."
    if token.is_expired(today):
        return f"The token “{token}” expired on {token.expires_on}."
    if not token.owner.is_active or not token.owner_in_group:
        return f"The owner of the token “{token}” is no longer in the group {token.group}."
    return ""


def _refuse(reason):
    raise Refusal(401, reason)


class TokenThrottle(threading.local, AuthRateThrottle):
    """Limits the requests of each token to API_RATE. The library counts on the throttle object, which threads share,
    so there is one per thread."""

    def __init__(self):
        AuthRateThrottle.__init__(self, settings.API_RATE)

    def get_cache_key(self, request):
        return f"api-token-{request.auth.pk}"

    def allow_request(self, request):
        """If the cache with the counts is down, allow the request: a reading matters more than a limit."""
        self.num_requests, self.duration = self.parse_rate(settings.API_RATE)
        try:
            return super().allow_request(request)
        except redis.RedisError:
            log.exception("The requests of API tokens cannot be counted.")
            return True

    def wait(self):
        """Return the seconds until the oldest counted request no longer counts."""
        oldest = self.history[-1] if self.history else self.now
        return max(1.0, timedelta(seconds=oldest + self.duration - self.now).total_seconds())
