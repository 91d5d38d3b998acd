"""Manage accounts: the list, one person, and the actions on an account."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.actions import (
    add_person,
    change_person,
    lock_person,
    password_link,
    remove_second_factor,
    unlock_person,
)
from fleet.errors import Refused
from fleet.forms.people import NewPersonForm, PersonFilter, PersonForm
from fleet.models import Person
from fleet.people.lockout import locked_until, signing_count
from fleet.tables.people import PersonTable, standing_mark
from fleet.views.lists import TableList
from fleet.web.form_methods import FORM_METHODS, posted

MANAGES = "fleet.manage_people"


class PersonList(TableList):
    permission_required = MANAGES
    table_class = PersonTable
    filterset_class = PersonFilter
    export_name = "people"
    template_name = "fleet/people.html"

    def get_rows(self):
        people = Person.objects.visible_to(self.request.user).with_second_factor()
        return people.prefetch_related("groups", "sites")

    def get_table_kwargs(self):
        usernames = self.object_list.values("username")
        return {"locked": locked_until(usernames, self.now)}


@permission_required(MANAGES, raise_exception=True)
@require_safe
def person_page(request, pk):
    person = _person(request, pk)
    return render(request, "fleet/person.html", _told(person))


@permission_required(MANAGES, raise_exception=True)
@require_http_methods(FORM_METHODS)
@never_cache
def person_add(request):
    """Create an account, and show the link where the person sets a password."""
    form = NewPersonForm(posted(request), by=request.user)
    if request.method == "POST" and form.is_valid():
        try:
            person = add_person(by=request.user, at=timezone.now(), **form.cleaned_data)
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            return _link_page(request, person)
    context = {"form": form, "title": "Add a person", "cancel_url": reverse("fleet:people")}
    return render(request, "fleet/person_form.html", context)


@permission_required(MANAGES, raise_exception=True)
@require_http_methods(FORM_METHODS)
def person_edit(request, pk):
    person = _person(request, pk)
    form = PersonForm(posted(request), instance=_person(request, pk), by=request.user)
    if request.method == "POST" and form.is_valid():
        try:
            change_person(person, by=request.user, at=timezone.now(), **form.cleaned_data)
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, f"The account of {person} is changed.")
            return redirect(person)
    context = {"form": form, "person": person, "title": f"Edit {person}", "cancel_url": person.get_absolute_url()}
    return render(request, "fleet/person_form.html", context)


@permission_required(MANAGES, raise_exception=True)
@require_POST
def person_lock(request, pk):
    return _act(request, pk, lock_person, "is locked: nobody can sign in with this account")


@permission_required(MANAGES, raise_exception=True)
@require_POST
def person_unlock(request, pk):
    return _act(request, pk, unlock_person, "can sign in again")


@permission_required(MANAGES, raise_exception=True)
@require_POST
def person_second_factor(request, pk):
    return _act(request, pk, remove_second_factor, "now signs in with the password alone")


@permission_required(MANAGES, raise_exception=True)
@require_POST
@never_cache
def person_link(request, pk):
    return _link_page(request, _person(request, pk))


def _person(request, pk):
    people = Person.objects.visible_to(request.user).with_second_factor().prefetch_related("groups", "sites")
    return get_object_or_404(people, pk=pk)


def _told(person):
    locked = locked_until([person.username, signing_count(person.username)], timezone.now())
    until = max(locked.values(), default=None)
    return {
        "person": person,
        "person_passkeys": person.passkeys.all(),
        "locked_until": until,
        "standing": standing_mark(person, until),
    }


def _act(request, pk, action, done):
    person = _person(request, pk)
    try:
        action(person, by=request.user, at=timezone.now())
        messages.success(request, f"{person} {done}.")
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect(person)


def _link_page(request, person):
    try:
        parts = password_link(person, by=request.user, at=timezone.now())
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect(person)
    link = request.build_absolute_uri(reverse("password_set", kwargs=parts))
    return render(request, "fleet/person_link.html", {"person": person, "link": link})
