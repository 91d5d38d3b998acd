"""How the bench answers its own script, and the same as pages where no script runs.

Each answer to the script says in `Bench-Answer` what became of the request: “kept”, “refused”, “contested” or “frozen”.
"""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, resolve_url

from inspections.errors import ReadingContested, RecordFrozen
from inspections.views.at_site import render_at_site

STATUSES = {"kept": 200, "refused": 422, "contested": 409, "frozen": 409}


def answer_word(error):
    """Return the word for what became of a request, by the error that refused it; None for none."""
    if error is None:
        return "kept"
    if isinstance(error, RecordFrozen):
        return "frozen"
    return "contested" if isinstance(error, ReadingContested) else "refused"


def fragment(request, template, context, error=None):
    """Answer with parts of the page; `error` is why nothing was saved."""
    word, site = answer_word(error), context["step"].inspection.machine.site
    response = render_at_site(request, site, template, context, status=STATUSES[word])
    response["Bench-Answer"] = word
    return response


def is_from_script(request):
    """Whether the bench's script sent the form, and goes on by itself."""
    return request.headers.get("Bench-Request") == "yes"


def gone_on(request, to):
    """Answer a form that was carried out: go to `to`."""
    if not is_from_script(request):
        return redirect(to)
    response = HttpResponse(headers={"Bench-Answer": "kept", "Bench-Location": resolve_url(to)})
    return response


def not_done(request, step, why):
    """Answer a form that was refused: say why, on the page of the step."""
    if is_from_script(request):
        return _sentence(why, "refused")
    messages.error(request, str(why))
    return redirect(step)


def locked(request, step, error):
    """Answer a form of an inspection that is no longer in progress."""
    if is_from_script(request):
        return _sentence(error, "frozen")
    messages.error(request, str(error))
    return redirect(step.inspection)


def _sentence(why, word):
    response = HttpResponse(str(why), content_type="text/plain; charset=utf-8", status=STATUSES[word])
    response["Bench-Answer"] = word
    return response
