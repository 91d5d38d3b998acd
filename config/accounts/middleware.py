"""Access control for every request: signed in, with the second factor where it is required, before the session ends."""

import re
import time

from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import urlencode

from config.accounts.sessions import wanted_second_factor

WRITTEN_AGAIN = 60  # seconds between two writes of a session
BEFORE_SECOND_FACTOR = {"second_factor_ask", "second_factor_set_up", "login", "logout", "session", "password_set"}
NOT_KEPT = re.compile("csrfmiddlewaretoken|code|passkey|.*password.*")


class SessionClock:
    """Extend a session at each request of its person; asking how much time is left does not extend it."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        seen = request.session.get("seen")
        asks_only = request.method == "GET" and request.path in (reverse("session"), reverse("device_contact"))
        if seen is not None and not asks_only and abs(time.time() - seen) > WRITTEN_AGAIN:
            request.session["seen"] = int(time.time())
        return self.get_response(request)


class SignedIn(LoginRequiredMiddleware):
    """Ask to sign in without losing anything: no part of a page is replaced, and a form that was sent stays visible."""

    def handle_no_permission(self, request, view_func):
        if request.htmx:
            return signed_out_fragment()
        if request.method == "POST":
            kept = [
                (name, value)
                for name, values in request.POST.lists()
                if not NOT_KEPT.fullmatch(name)
                for value in values
            ]
            return render(request, "accounts/signed_out.html", {"kept": kept, "files": list(request.FILES)}, status=401)
        return super().handle_no_permission(request, view_func)


class SecondFactor:
    """After the right password, let nobody go on until the second factor is given, or set up where it is required."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        return self.get_response(request)

    def process_view(self, request, view_func, args, kwargs):
        is_open = not getattr(view_func, "login_required", True)
        if not request.session.get("second_factor") or is_open:
            return None
        wanted = still_wanted(request)
        if not wanted or request.resolver_match.view_name in BEFORE_SECOND_FACTOR:
            return None
        if request.htmx:
            return signed_out_fragment()
        page = "second_factor_ask" if wanted == "ask" else "second_factor_set_up"
        return redirect(f"{reverse(page)}?{urlencode({'next': request.get_full_path()})}")


def still_wanted(request):
    """Return what this session must still do about a second factor; the state at the login may have changed since."""
    wanted = wanted_second_factor(request.user)
    if not wanted:
        del request.session["second_factor"]
    elif wanted != request.session["second_factor"]:
        request.session["second_factor"] = wanted
    return wanted


def signed_out_fragment():
    """Return an answer that htmx inserts nowhere; session.js tells the person what to do."""
    return HttpResponse("You are signed out. Sign in in another window, then continue here.", status=401)
