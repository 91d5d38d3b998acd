"""The script of the service worker, the contact of a device before it sends, and the page of what waits on it."""

import json
from functools import lru_cache
from hashlib import sha256
from pathlib import Path

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.contrib.staticfiles.storage import staticfiles_storage
from django.http import HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from config.offline.middleware import now_ms
from fleet.web.device import device_mark
from inspections.views.device_requests import ADDRESSES

SCRIPTS = ("store", "outbox", "pages", "worker")
FOLDER = Path(__file__).resolve().parent.parent / "static" / "bobbin" / "offline"


@login_not_required
@require_safe
def service_worker(request):
    """The service worker, at the root so that it serves every page: its scripts one after the other.

    One file, because neither `importScripts` nor modules run in every browser under the content security policy.
    """
    response = HttpResponse(worker_script(), content_type="text/javascript; charset=utf-8")
    response["Cache-Control"] = "no-cache"
    return response


@login_not_required
@never_cache
@require_safe
def contact(request):
    """Say who is signed in, what time it is, and the token that a change must bear. It does not extend the session."""
    mark = device_mark(request)
    return JsonResponse({"person": mark, "time": now_ms(), "token": get_token(request) if mark else ""})


@require_safe
def device(request):
    """What waits on this device, and what could not be sent. The page is empty: its script reads the device."""
    return render(request, "offline/device.html")


@lru_cache(maxsize=1)
def worker_script():
    source = "\n".join((FOLDER / f"{name}.js").read_text(encoding="utf-8") for name in SCRIPTS)
    values = {
        "addresses": ADDRESSES,
        "static": settings.STATIC_URL,
        "contact": reverse("device_contact"),
        "device": reverse("device"),
        "isHashed": settings.STATIC_HASHED,
    }
    values["version"] = sha256(f"{source}{json.dumps(values)}{_static_version()}".encode()).hexdigest()[:12]
    return f"const SETTINGS = {json.dumps(values)};\n{source}"


def _static_version():
    """A name for the static files as they are: it changes with any of them where their names hold their digest."""
    return getattr(staticfiles_storage, "manifest_hash", "")
