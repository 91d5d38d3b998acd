"""Show, set up, ask for and remove the second factor: a time-based code (RFC 6238) from an app, with recovery codes."""

import time
from base64 import b32encode
from binascii import unhexlify

import segno
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe
from django_otp import devices_for_user, match_token
from django_otp.oath import TOTP
from django_otp.plugins.otp_static.models import StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice
from django_otp.util import random_hex

from config.accounts.forms import CodeForm, RemoveSecondFactorForm
from config.accounts.sessions import wanted_second_factor
from fleet.actions import remove_second_factor, set_up_second_factor
from fleet.errors import Refused
from fleet.web.form_methods import FORM_METHODS, posted
from fleet.web.inline_svg import inline_svg


@require_safe
@never_cache
def second_factor(request):
    """Show whether a second factor is set up, and how many recovery codes are left."""
    left = StaticToken.objects.filter(device__user=request.user).count()
    device = TOTPDevice.objects.filter(user=request.user, confirmed=True).first()
    return render(request, "accounts/second_factor.html", {"device": device, "left": left})


@require_http_methods(FORM_METHODS)
@never_cache
def set_up(request):
    """Show a new secret as a QR code and accept the first code for it; then show the recovery codes, once."""
    if any(devices_for_user(request.user)):
        return redirect("second_factor")
    key = request.session.setdefault("second_factor_key", random_hex(20))
    form = CodeForm(posted(request))
    if request.method == "POST" and form.is_valid():
        moment = _step_of(key, form.cleaned_data["code"])
        if moment is not None:
            return _set_up(request, key, moment)
        form.add_error("code", "This is not the code that the app shows now. Check the time of your phone; try again.")
    return render(request, "accounts/second_factor_set_up.html", {"form": form, **_told(request.user, key)})


@require_http_methods(FORM_METHODS)
@never_cache
def ask(request):
    """Ask for the code after the password. Each wrong code makes the next attempt wait longer."""
    if request.session.get("second_factor") != "ask":
        return redirect("home")
    form = CodeForm(posted(request))
    if request.method == "POST" and form.is_valid():
        if match_token(request.user, form.cleaned_data["code"]):
            del request.session["second_factor"]
            request.session.cycle_key()
            return redirect(_next(request))
        form.add_error("code", "This code is not accepted. Wait for the next one; after several, wait a while longer.")
    return render(request, "accounts/second_factor_ask.html", {"form": form, "next": _next(request)})


@require_http_methods(FORM_METHODS)
@never_cache
def remove(request):
    """Remove one's own second factor, with the password and a code of the factor itself."""
    if not any(devices_for_user(request.user)):
        return redirect("second_factor")
    form = RemoveSecondFactorForm(posted(request), request=request)
    if request.method == "POST" and form.is_valid():
        try:
            remove_second_factor(request.user, by=request.user, at=timezone.now())
            messages.success(request, "Your second factor is removed. Other sessions of your account have ended.")
        except Refused as refused:
            messages.error(request, str(refused))
        _go_on_here(request)
        return redirect("second_factor")
    return render(request, "accounts/second_factor_remove.html", {"form": form})


def _step_of(key, code):
    """Return the time step that the code belongs to, at most one step from now; None for a wrong code."""
    totp = TOTP(unhexlify(key))
    totp.time = time.time()
    return totp.t() if code.isdecimal() and totp.verify(int(code), tolerance=1) else None


def _set_up(request, key, step):
    """Store the factor and show the recovery codes. If two windows send a first code at once, one is refused."""
    del request.session["second_factor_key"]
    try:
        codes = set_up_second_factor(request.user, key=key, step=step, at=timezone.now())
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect("second_factor")
    _go_on_here(request)
    return render(request, "accounts/recovery_codes.html", {"codes": codes})


def _go_on_here(request):
    """Keep this session when the account's others end, and store what it must do about a second factor."""
    request.user.refresh_from_db(fields=["sessions_ended"])
    update_session_auth_hash(request, request.user)
    request.session.pop("second_factor", None)
    if wanted_second_factor(request.user) == "set up":
        request.session["second_factor"] = "set up"


def _told(person, key):
    device = TOTPDevice(user=person, key=key)
    secret = b32encode(unhexlify(key)).decode()
    drawn = segno.make(device.config_url, error="m").svg_inline(scale=5, border=3, light="#fff", title="QR code")
    groups = [secret[i : i + 4] for i in range(0, len(secret), 4)]
    return {"qr": inline_svg(drawn), "secret": " ".join(groups)}


def _next(request):
    address = request.POST.get("next") or request.GET.get("next") or ""
    if url_has_allowed_host_and_scheme(address, {request.get_host()}, require_https=request.is_secure()):
        return address
    return reverse("home")
