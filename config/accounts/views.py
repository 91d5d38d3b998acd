"""How long the session lasts, changing the password, and the page of an account that is locked out."""

import time

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import views as auth
from django.contrib.auth.decorators import login_not_required
from django.http import JsonResponse
from django.shortcuts import render
from django.urls import reverse_lazy
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from config.accounts.devices import counted_as
from config.accounts.forms import CountedPasswordChangeForm
from fleet.changes import record_change
from fleet.people.lockout import forget_wrong_passwords, locked_until


@login_not_required
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def session_left(request):
    """Return the seconds until the session ends without a request, 0 when nobody is signed in; POST moves it on."""
    if not request.user.is_authenticated or request.session.get("second_factor"):
        return JsonResponse({"seconds": 0})
    now = int(time.time())
    if request.method == "POST":
        request.session["seen"] = now
    seen = request.session.get("seen", now)
    return JsonResponse({"seconds": max(0, seen + settings.SESSION_COOKIE_AGE - now)})


class PasswordChange(auth.PasswordChangeView):
    form_class = CountedPasswordChangeForm
    success_url = "/"

    def get_form_kwargs(self):
        return super().get_form_kwargs() | {"request": self.request}

    def form_valid(self, form):
        messages.success(self.request, "Your password is changed.")
        _record_new_password(self.request.user)
        return super().form_valid(form)


class PasswordSet(auth.PasswordResetConfirmView):
    """The page that a password link opens: it works once, and ends a lockout."""

    template_name = "accounts/password_set.html"
    success_url = reverse_lazy("login")

    def form_valid(self, form):
        self.request.known_here = self.user.get_username()
        forget_wrong_passwords(self.user.get_username())
        _record_new_password(self.user)
        return super().form_valid(form)


def _record_new_password(person):
    record_change(person, by=person, at=timezone.now(), before={"Password": "old"}, after={"Password": "changed"})


def locked_out(request, response=None, credentials=None):
    """Answer too many wrong passwords, on any page that asks for one, with the time for which the account is locked."""
    count, now = counted_as(request, credentials), timezone.now()
    until = locked_until([count], now).get(count)
    minutes = -(-int((until - now).total_seconds()) // 60) if until else settings.LOCKOUT_MINUTES
    context = {"minutes": max(1, minutes), "until": until, "attempts": settings.AXES_FAILURE_LIMIT}
    return render(request, "accounts/locked_out.html", context, status=429)
