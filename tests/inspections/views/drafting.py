"""Drafts of procedures, and their pages as a browser asks for them."""

from django.urls import reverse

from inspections.actions import begin_draft
from inspections.procedure_editing.step_edits import find_step
from inspections.procedure_editing.written_form import written_form
from tests.factories import NOON, make_procedure
from tests.inspections.scenes import SHORT

TEXT = SHORT + 'instruction = "Press the flush for one second."\n'
ADD = "/library/procedures/drafts/add/"


def make_draft(by, directory):
    """A draft of a new version of a procedure that is loaded from `directory`."""
    version = make_procedure(TEXT, directory=directory).current_version()
    return begin_draft(written_form(version.content), procedure=version.procedure, based_on=version, by=by, at=NOON)


def url(name, draft, *args):
    return reverse(f"inspections:procedure_{name}", args=[draft.pk, *args])


def page(client, address, status=200, **query):
    response = client.get(address, query)
    assert response.status_code == status
    return response.content.decode().replace("&#x27;", "'")


def fields_of(client, address):
    """What a browser sends of the page of a form as it is: every field with its value."""
    context = client.get(address).context
    sent = {"seen": context["seen"]}
    many = context.get("limits") if "limits" in context else context.get("forms")
    forms = [context["form"]] if "form" in context else []
    for form in [*forms, *([many.management_form, *many] if many is not None else [])]:
        for bound in form:
            value = bound.value()
            if value is not None and value is not False and value != "":
                sent[bound.html_name] = "on" if value is True else value
    return sent


def step_now(draft, code):
    draft.refresh_from_db()
    return find_step(draft.content, code)
