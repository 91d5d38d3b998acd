"""What is stored about a person: shown and sent to that person, and removed by whoever manages accounts."""

import json

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.serializers.json import DjangoJSONEncoder
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from fleet.actions import remove_person
from fleet.errors import Refused
from fleet.export.download import file_response
from fleet.forms.passwords import PasswordForm
from fleet.models import Person
from fleet.people.personal_data import personal_data, removal_plan
from fleet.views.people import MANAGES
from fleet.web.form_methods import FORM_METHODS, posted


@require_safe
@never_cache
def own_data(request):
    return render(request, "fleet/own_data.html", {"plan": removal_plan(request.user)})


@require_safe
@never_cache
def own_data_file(request):
    return _sent(request.user)


@permission_required(MANAGES, raise_exception=True)
@require_safe
@never_cache
def person_data_file(request, pk):
    return _sent(_person(request, pk))


@permission_required(MANAGES, raise_exception=True)
@require_http_methods(FORM_METHODS)
@never_cache
def person_remove(request, pk):
    """Show what would be deleted and kept; remove it once the acting person has given their password."""
    person = _person(request, pk)
    form = PasswordForm(posted(request), request=request)
    if request.method == "POST" and form.is_valid():
        try:
            plan = remove_person(person, by=request.user, at=timezone.now())
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, _done(person, plan))
            return redirect("fleet:people")
    return render(request, "fleet/person_remove.html", {"person": person, "plan": removal_plan(person), "form": form})


def _done(person, plan):
    if not plan.is_deleted:
        return f"The account of {person} is permanently closed, and data that no record needs are deleted."
    history = reverse("fleet:changes", args=["person", person.pk])
    return f"The account of {person} is deleted. {history} shows who deleted it."


def _person(request, pk):
    return get_object_or_404(Person.objects.visible_to(request.user), pk=pk)


def _sent(person):
    content = json.dumps(personal_data(person), cls=DjangoJSONEncoder, indent=1, ensure_ascii=False)
    return file_response(f"personal-data-{person.pk}.json", content)
