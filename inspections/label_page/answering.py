"""Who gets past the door of a label's page, and the headers of every answer. No login and no session is needed."""

from functools import wraps

from csp.constants import NONE, SELF
from csp.decorators import csp_replace
from django.contrib.auth.decorators import login_not_required
from django.http import HttpResponse
from django.shortcuts import redirect
from django.template.loader import render_to_string
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from fleet.web.at_site import show_as_site
from fleet.web.client_address import address_of
from inspections.label_page.rate_limits import PAGES, SENT, UNKNOWN, count, exhausted
from inspections.models import MachineLabel

# Stricter than the other pages: no script at all.
POLICY = {
    "default-src": [NONE],
    "script-src": [NONE],
    "connect-src": [NONE],
    "style-src": [SELF],
    "img-src": [SELF],
    "font-src": [SELF],
    "form-action": [SELF],
    "base-uri": [NONE],
    "frame-ancestors": [NONE],
}
UNKNOWN_CODE = (
    "No machine has this code. Scan the code on the machine's label again, or call the biomedical department."
)
DEAD_CODE = (
    "This label is no longer valid. The machine has a new label: look for it, or call the biomedical department. Do "
    "not rely on this label."
)
SWITCHED_OFF = "This page is switched off, and nothing was stored. Call the biomedical department."
KEPT_FIELDS = {
    "what": "What happened", "where": "Where the machine is", "who": "Who reports it", "by_name": "Name",
    "check_list": "Check list used", "note": "Problem",
}  # fmt: skip


class Answered(Exception):
    """The request is answered already: `response` says why it goes no further."""

    def __init__(self, response):
        self.response = response


def label_view(*methods):
    """Make a function of a request and a label in force the view of a code."""

    def decorate(view):
        @wraps(view)
        def run(request, code, **values):
            try:
                response = view(request, admitted(request, code), **values)
            except Answered as answered:
                response = answered.response
            response["X-Robots-Tag"] = "noindex, nofollow"
            response["Referrer-Policy"] = "no-referrer"
            return response

        guarded = require_http_methods(methods)(csp_replace(POLICY)(never_cache(run)))
        return login_not_required(csrf_exempt(guarded))  # label_page/form_tokens.py says what protects the forms

    return decorate


def admitted(request, code):
    """Return the label of a code, with its machine and site. Raise Answered for one that opens nothing now."""
    address = address_of(request)
    if wait := exhausted(UNKNOWN, address):
        raise Answered(too_many(request, wait))
    label = MachineLabel.objects.with_code(code).with_place().first()
    if label is None:
        count(UNKNOWN, address)
        raise Answered(refusal(request, UNKNOWN_CODE, status=404))
    site = label.machine.site
    show_as_site(site)
    if not site.has_label_page and request.method != "POST":
        raise Answered(redirect(label.machine))
    if not (site.has_label_page and label.is_in_force):
        words = DEAD_CODE if site.has_label_page else SWITCHED_OFF
        raise Answered(refusal(request, words, status=410, site=site))
    if wait := count(PAGES, address) or (count(SENT, address) if request.method == "POST" else 0):
        raise Answered(too_many(request, wait, site=site))
    return label


def too_many(request, seconds, *, site=None, message=""):
    """Answer 429: when to try again and whom to call."""
    words = message or "Too many requests come from this network."
    response = refusal(request, f"{words} Try again {in_words(seconds)}.", status=429, site=site)
    response["Retry-After"] = str(seconds)
    return response


def in_words(seconds):
    minutes = -(-seconds // 60)
    return f"in {minutes} minute{'' if minutes == 1 else 's'}"


def page(name, context, *, status=200):
    """Render a page of a label without its request, so that no part of it reads who is signed in."""
    return HttpResponse(render_to_string(f"inspections/label_page/{name}.html", context), status=status)


def refusal(request, sentence, *, status, site=None):
    """Answer with a sentence. What was typed is shown, so that it can be copied."""
    kept = [(words, request.POST[name]) for name, words in KEPT_FIELDS.items() if request.POST.get(name)]
    return page("refused", {"sentence": sentence, "status": status, "site": site, "kept": kept}, status=status)
