"""The public page that the code of a label opens: the machine's standing, and three things to do."""

from dataclasses import replace

from django.http import Http404
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone

from fleet.confined.limits import Turns
from fleet.photographs import PhotographRefused, clean_photograph
from fleet.photographs.cleaning import ONE_AT_A_TIME
from fleet.web.client_address import address_of
from fleet.web.form_methods import FORM_METHODS, posted
from inspections.actions import record_user_check, report_from_label
from inspections.errors import Refused, TooMany
from inspections.forms.label_page import LabelFaultForm, UserCheckForm
from inspections.label_page.answering import UNKNOWN_CODE, Answered, label_view, page, refusal, too_many
from inspections.label_page.form_tokens import key_of, new_receipt, new_token, read_receipt
from inspections.label_page.machine_standing import standing_of
from inspections.label_page.rate_limits import REPORTS, count
from inspections.models import FaultReport, UserCheck

FAULT = "fault"
KINDS = dict(UserCheck.Kind.choices)
# A turn of their own, so that photographs from labels never keep a technician waiting.
WITHOUT_LOGIN = replace(ONE_AT_A_TIME, turns=Turns(waiting=1, patience_s=4.0))
RETIRED = "This machine is retired. Do not use it. Nothing can be reported about it here."


@label_view("GET", "HEAD")
def label_page(request, label):
    return page("page", _context(label))


@label_view(*FORM_METHODS)
def label_fault(request, label):
    """Report a fault: what, where, who."""
    _refuse_retired(request, label)
    form = LabelFaultForm(posted(request), request.FILES or None, label=label, kind=FAULT)
    if request.method == "POST" and form.is_valid():
        try:
            return _stored(request, label, FAULT, lambda: _report(request, label, form))
        except PhotographRefused as error:
            form.add_error("photograph", str(error))
    return _fault_page(label, form)


@label_view(*FORM_METHODS)
def label_check(request, label, kind):
    """Record a daily check or a first-user check. A problem leads on to the fault report."""
    if kind not in KINDS:
        raise Answered(refusal(request, UNKNOWN_CODE, status=404))
    _refuse_retired(request, label)
    form = UserCheckForm(
        posted(request), label=label, kind=kind, initial={"check_list": label.machine.site.check_list_title}
    )
    if request.method == "POST" and form.is_valid():
        return _stored(request, label, kind, lambda: _check(label, kind, form))
    return _form_page(label, form, "check", kind=kind, title=KINDS[kind])


@label_view("GET", "HEAD")
def label_done(request, label, receipt):
    """What was stored, for whoever sent it."""
    found = read_receipt(receipt, label)
    if found is None:
        raise Answered(refusal(request, "This receipt is no longer shown.", status=404, site=label.machine.site))
    kind, pk = found
    model = FaultReport if kind == FAULT else UserCheck
    stored = model.objects.filter(machine=label.machine, pk=pk).first()
    if stored is None:
        raise Http404
    name = "report" if kind == FAULT else "check"
    return page(f"{name}_done", _context(label) | {name: stored})


def _report(request, label, form):
    data = dict(form.cleaned_data)
    if wait := count(REPORTS, address_of(request)):
        message = "Many fault reports came from this network within an hour, and this one was not stored."
        raise Answered(too_many(request, wait, site=label.machine.site, message=message))
    file = data.pop("photograph", None)  # read only now, within the limits
    clean = clean_photograph(file, limits=WITHOUT_LOGIN) if file is not None else None
    key = key_of(form.nonce, *(data[name] for name in sorted(data)), clean.digest if clean else "")
    return report_from_label(label, key=key, photograph=clean, at=timezone.now(), **data)


def _check(label, kind, form):
    data = form.cleaned_data
    key = key_of(form.nonce, *(data[name] for name in sorted(data)))
    return record_user_check(label, kind=kind, key=key, at=timezone.now(), **data)


def _stored(request, label, kind, store):
    """Store it and lead on, or say why it is not accepted."""
    site = label.machine.site
    try:
        stored = store()
    except PhotographRefused:
        raise
    except TooMany as error:
        if error.seconds is None:
            return refusal(request, str(error), status=429, site=site)
        return too_many(request, error.seconds, site=site, message=str(error))
    except Refused as error:
        return refusal(request, str(error), status=409, site=site)
    if kind != FAULT and stored.found_problem:
        initial = {"what": stored.note, "who": stored.by_name}
        return _fault_page(label, LabelFaultForm(label=label, kind=FAULT, initial=initial), check=stored)
    return redirect("inspections:label_done", label.code, new_receipt(label, kind, stored.pk))


def _fault_page(label, form, **more):
    return _form_page(label, form, "fault", kind=FAULT, title="Report a fault", **more)


def _form_page(label, form, name, *, kind, **more):
    context = _context(label) | {"form": form, "kind": kind, "ticket": new_token(label, kind), **more}
    return page(name, context, status=422 if form.errors else 200)


def _context(label):
    machine = label.machine
    return {
        "machine": machine,
        "site": machine.site,
        "standing": standing_of(machine),
        "page_url": label.get_absolute_url(),
        "fault_url": reverse("inspections:label_fault", args=[label.code]),
        "daily_url": reverse("inspections:label_check", args=[label.code, UserCheck.Kind.DAILY]),
        "first_use_url": reverse("inspections:label_check", args=[label.code, UserCheck.Kind.FIRST_USER]),
    }


def _refuse_retired(request, label):
    if label.machine.status == "retired":
        raise Answered(refusal(request, RETIRED, status=409, site=label.machine.site))
