"""Sites with their areas, and people, pasted as a list: shown first, then made all at once."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from fleet.actions import add_people, add_places
from fleet.errors import Refused
from fleet.forms.pasted import PastedPeopleForm, PastedPlacesForm
from fleet.web.form_methods import FORM_METHODS, posted

PLACES = ("fleet.add_site", "fleet.add_area")


@permission_required(PLACES, raise_exception=True)
@require_http_methods(FORM_METHODS)
def places_paste(request):
    """Enter sites and areas from a list."""
    form = PastedPlacesForm(posted(request), person=request.user)
    made = _made(request, form, add_places)
    if made is None:
        return render(request, "fleet/places_paste.html", {"form": form, "plan": _shown(form)})
    messages.success(request, f"{made[0]} sites and {made[1]} areas are saved.")
    return redirect("fleet:sites")


@permission_required("fleet.manage_people", raise_exception=True)
@require_http_methods(FORM_METHODS)
@never_cache
def people_paste(request):
    """Create accounts from a list, and show the link where each person sets a password."""
    form = PastedPeopleForm(posted(request), person=request.user)
    made = _made(request, form, add_people)
    if made is None:
        return render(request, "fleet/people_paste.html", {"form": form, "plan": _shown(form)})
    links = [(person, request.build_absolute_uri(reverse("password_set", kwargs=parts))) for person, parts in made]
    return render(request, "fleet/people_pasted.html", {"links": links})


def _shown(form):
    return getattr(form, "plan", None)


def _made(request, form, act):
    """Carry out the list if it is the one that was shown before; else return None, and the page shows it."""
    if request.method != "POST" or not form.is_valid():
        return None
    plan = form.plan  # of the text as it was sent, against what is entered now
    if not plan.is_ready or "again" in request.POST or "shown" not in request.POST:
        return None
    if request.POST["shown"] != plan.sign:
        form.add_error(None, "The list, or what is entered already, has changed since it was shown. Look at it again.")
        return None
    try:
        return act(plan.new, by=request.user, at=timezone.now())
    except Refused as refused:
        form.add_error(None, str(refused))
        return None
