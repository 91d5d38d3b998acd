"""Ask an address in a real request, and forget what the request did."""

from django.conf import settings
from django.core.cache import cache
from django.db import transaction
from django.test import Client
from django.urls import reverse
from django.utils.http import urlencode

from tests.factories import ask_for_token, make_token

METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS")
REFUSED = {401, 403, 404, 405}


class Asker:
    """Somebody who asks: by a session, and at the API by a token of `group`.

    own  for the routes of what belongs to the asker alone, the values of their converters
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
        self.headers = {"Authorization": f"Bearer {secret}"} if secret else {}

    def ask(self, address, method, values, *, by_token=None, posted=()):
        """Return the response; its content is read before everything that it changed is taken back."""
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
    """Whether the answer is the page itself, also when it says that the form was not filled in."""
    return response.status_code not in REFUSED and not is_sent_to_sign_in(response)


def is_sent_to_sign_in(response):
    """Whether the answer is to sign in first, or to go on with the second factor."""
    first = (reverse("login"), *(f"{reverse(page)}?" for page in ("second_factor_ask", "second_factor_set_up")))
    return response.status_code == 302 and response.url.startswith(first)
