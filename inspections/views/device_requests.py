"""Requests that a device keeps and sends when it has a network: each is carried out once, however often it comes.

A device gives each change a key (`Idempotency-Key`). The key is stored in the transaction of the change, so that a
process killed half way leaves neither. Every answer to such a request bears the header `Bench-Answer`; an answer
without it (a login page, an error) tells the device to keep the change and send it again.
"""

from datetime import UTC, datetime, timedelta
from functools import wraps
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.http import Http404, HttpResponse
from django.utils import timezone

from fleet.web.device import KEY, PERSON, TYPED_AT, device_mark
from inspections.models import DeviceAnswer

# What the bench sends begins with one of these. The service worker keeps a POST there until it is answered.
ROUTES = ("inspections/steps/", "inspections/questions/", "inspections/replaced/", "inspections/<int:pk>/bench/")
ADDRESSES = [rf"^/{route.replace('<int:pk>', '[0-9]+')}" for route in ROUTES]

ANSWER, SEEN, LOCATION = "Bench-Answer", "Bench-Seen", "Bench-Location"
CHANGES = ("kept", "contested")  # the answers after which something is stored
WORTH_SAYING = timedelta(minutes=2)
GONE = (
    "This step is no longer there, or you may no longer see it: the inspection was deleted, or its procedure or its "
    "machine changed. Note the value, and enter it where it belongs now."
)
FORBIDDEN = "You may no longer change this inspection. Ask a planner, or give the value to a technician."
OTHER_PERSON = "Another person is signed in. The change waits until its own person signs in again."


def answered_once(patterns):
    """Let every view of `patterns` that the bench sends changes to answer each key once."""
    for pattern in patterns:
        if str(pattern.pattern).startswith(ROUTES):
            pattern.callback = _answered_once(pattern.callback)


def typed_on_device(request, inspection, now):
    """Return when the reading of a request was typed, None if that was just now or is not known.

    The clock of a device may be wrong: the moment is never later than now nor earlier than the start of the inspection.
    """
    text = request.headers.get(TYPED_AT, "")
    if not (text.isascii() and text.isdigit() and len(text) <= 14):
        return None
    typed = max(datetime.fromtimestamp(int(text) / 1000, UTC), inspection.opened_at)
    return typed if now - typed > WORTH_SAYING else None


def _answered_once(view):
    @wraps(view)
    def answer(request, *args, **kwargs):
        sent = request.headers.get(KEY)
        if request.method != "POST" or sent is None:
            return view(request, *args, **kwargs)
        if request.headers.get(PERSON) != device_mark(request):
            return HttpResponse(OTHER_PERSON, status=401, content_type="text/plain; charset=utf-8")
        try:
            key = UUID(sent)
        except ValueError:
            return _refused(400, f"The key of the request, {sent[:50]!r}, is no UUID.")
        return _answer(request, key, lambda: view(request, *args, **kwargs))

    return answer


@transaction.atomic
def _answer(request, key, change):
    """Make the change, or answer as the first time. The row of the key comes first: a second request waits for it."""
    row, is_new = DeviceAnswer.objects.get_or_create(
        key=key, defaults={"person": request.user, "address": request.path[:300], "at": timezone.now()}
    )
    if not is_new:
        return _again(request, row)
    response = _with_answer(request, change)
    if response.get(ANSWER) in CHANGES:
        row.status = response.status_code
        row.headers = {name: response[name] for name in (ANSWER, SEEN, LOCATION) if name in response}
        row.save(update_fields=["status", "headers"])
    else:
        row.delete()
    return response


def _again(request, row):
    """Return the first answer, without the fragments of the page: they show what is stored by now."""
    if row.person_id != request.user.pk or row.address != request.path[:300]:
        return _refused(422, "This key belongs to another change.")
    return HttpResponse(status=row.status, headers=row.headers | {"HX-Reswap": "none"})


def _with_answer(request, change):
    """Return the answer of the view; one that is made for a person without scripts is put into the headers."""
    try:
        response = change()
    except Http404:
        return _refused(404, GONE)
    except PermissionDenied:
        return _refused(403, FORBIDDEN)
    if ANSWER in response or response.status_code >= 500:
        return response
    if response.status_code >= 400:
        response[ANSWER] = "refused"
        response["HX-Reswap"] = "none"
        return response
    if said := [str(one) for one in messages.get_messages(request) if one.level >= messages.WARNING]:
        return _refused(409, " ".join(said))
    if 300 <= response.status_code < 400:
        response = HttpResponse(headers={LOCATION: response.url, "HX-Reswap": "none"})
    response[ANSWER] = "kept"
    return response


def _refused(status, sentence):
    headers = {ANSWER: "refused", "HX-Reswap": "none"}
    return HttpResponse(sentence, status=status, content_type="text/plain; charset=utf-8", headers=headers)
