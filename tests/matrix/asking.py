"""Send a real request to an address, and roll back its changes."""

from contextlib import contextmanager
from unittest import mock

from django.conf import settings
from django.core.cache import cache
from django.db import transaction
from django.test import Client
from django.urls import reverse
from django.utils.http import urlencode

from tests.factories import ask_for_token, make_token
from tests.passkeys import give_passkey

METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS")
REFUSED = {401, 403, 404, 405}


@contextmanager
def within_one_transaction():
    """Let the health page write nothing: it does so on a connection of its own, which would wait for ours."""
    with mock.patch("config.health.services.check_write"):
        yield


class Asker:
    """Sends requests with a session, and at the API with a token of `group`.

    own  values of the converters, for routes to objects of the asker
    """

    def __init__(self, person=None, group=None, *, secret=None):
        self.client, self.session, self.own = Client(), None, {}
        if person:
            self.client.force_login(person)
            self.session = self.client.cookies[settings.SESSION_COOKIE_NAME].value
        if person and group:
            _, secret = make_token(person, group, name=f"Program of {person} for {group}")
            waiting = ask_for_token(person, group, name=f"Program that waits for {person}")
            self.own = {f"tokens/<int:pk>/{page}/": {"pk": waiting.pk} for page in ("confirm", "revoke")}
            give_passkey(person)
            own = {"pk": person.passkeys.first().pk}
            self.own |= {f"passkeys/<int:pk>/{page}/": own for page in ("rename", "remove")}
        self.headers = {"Authorization": f"Bearer {secret}"} if secret else {}

    def ask(self, address, method, values, *, by_token=None, posted=()):
        """Return the response; its content is read before its changes are rolled back."""
        by_token = address.is_api if by_token is None else by_token
        self.client.cookies.clear()
        if self.session and not by_token:
            self.client.cookies[settings.SESSION_COOKIE_NAME] = self.session
        if address.is_api:
            cache.clear()  # requests are counted there
        with transaction.atomic():
            response = self.client.generic(
                method,
                reverse(address.name, kwargs=values),
                urlencode(posted) if method == "POST" else "",
                "application/json" if by_token else "application/x-www-form-urlencoded",
                headers=self.headers if by_token else {},
            )
            if response.streaming:
                response.read = b"".join(response.streaming_content)
            transaction.set_rollback(True)
        return response


def is_let_in(response):
    """Return whether the answer is the page itself, also with errors of an empty form."""
    return response.status_code not in REFUSED and not is_sent_to_sign_in(response)


def is_sent_to_sign_in(response):
    """Return whether the answer redirects to the login or to the second factor."""
    first = (reverse("login"), *(f"{reverse(page)}?" for page in ("second_factor_ask", "second_factor_set_up")))
    return response.status_code == 302 and response.url.startswith(first)
