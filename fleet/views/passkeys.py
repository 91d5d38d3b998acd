"""One's own passkeys: the list, registering, naming and removing one, and the challenge that one must sign."""

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.actions import add_passkey, remove_passkey, rename_passkey
from fleet.errors import Refused
from fleet.forms.passkeys import PasskeyForm, PasskeyNameForm
from fleet.models import Passkey, Person
from fleet.people.passkeys import ANSWER, act_of, created_passkey, creation_options, is_offered, request_options
from fleet.views.people import MANAGES
from fleet.web.form_methods import FORM_METHODS, posted


@require_safe
@never_cache
def passkeys(request):
    own = Passkey.objects.filter(person=request.user)
    return render(request, "fleet/passkeys.html", {"passkeys": own, **_offer(request)})


@require_POST
@never_cache
def passkey_options(request):
    """Return what the browser asks the device for: a new passkey, or a signature for the form that was sent along."""
    act = act_of(request.POST.get("passkey_for", ""), request.POST.lists())
    make = creation_options if request.POST.get("passkey_kind") == "create" else request_options
    return HttpResponse(make(request, act, at=timezone.now()), content_type="application/json")


@require_http_methods(FORM_METHODS)
@never_cache
def passkey_add(request):
    """Store the passkey that the browser made while the form was sent, once the password is right."""
    form = PasskeyForm(posted(request), request=request)
    if request.method == "POST" and form.is_valid() and _add(request, form):
        return redirect("fleet:passkeys")
    context = {"form": form, **_offer(request)}
    return render(request, "fleet/passkey_add.html", context, status=422 if form.is_bound else 200)


def _add(request, form):
    now = timezone.now()
    made = created_passkey(request, request.POST[ANSWER], at=now)
    if made is None:
        form.add_error(None, "The passkey that your device made was not accepted. Nothing was stored; try again.")
        return False
    try:
        passkey = add_passkey(request.user, name=form.cleaned_data["name"], at=now, **made)
    except Refused as refused:
        form.add_error(None, str(refused))
        return False
    messages.success(request, f"The passkey “{passkey}” is registered. You can sign with it from now on.")
    return True


@require_http_methods(FORM_METHODS)
def passkey_rename(request, pk):
    passkey = _own(request, pk)
    form = PasskeyNameForm(posted(request), initial={"name": passkey.name})
    if request.method == "POST" and form.is_valid():
        try:
            rename_passkey(passkey, name=form.cleaned_data["name"], by=request.user, at=timezone.now())
            return redirect("fleet:passkeys")
        except Refused as refused:
            form.add_error("name", str(refused))
    context = {"form": form, "passkey": _own(request, pk)}
    return render(request, "fleet/passkey_rename.html", context, status=422 if form.is_bound else 200)


@require_http_methods(FORM_METHODS)
def passkey_remove(request, pk):
    passkey = _own(request, pk)
    if request.method != "POST":
        return render(request, "fleet/passkey_remove.html", {"passkey": passkey})
    return _remove(request, passkey, "fleet:passkeys")


@permission_required(MANAGES, raise_exception=True)
@require_POST
def person_passkey_remove(request, pk):
    """Whoever manages accounts removes the passkey of a lost device."""
    people = Person.objects.visible_to(request.user)
    passkey = get_object_or_404(Passkey.objects.filter(person__in=people).select_related("person"), pk=pk)
    return _remove(request, passkey, passkey.person)


def _remove(request, passkey, back):
    try:
        remove_passkey(passkey, by=request.user, at=timezone.now())
        messages.success(request, f"The passkey “{passkey}” is removed. What was signed with it stays signed.")
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect(back)


def _offer(request):
    return {"is_offered": is_offered(request), "passkey_domain": settings.PASSKEY_DOMAIN}


def _own(request, pk):
    return get_object_or_404(Passkey.objects.filter(person=request.user).select_related("person"), pk=pk)
