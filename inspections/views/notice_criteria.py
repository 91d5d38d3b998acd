"""What a safety notice names: adding, correcting and withdrawing a line, and searching the register again."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.forms import model_to_dict
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from fleet.web.form_methods import FORM_METHODS, posted
from inspections.actions import add_criterion, correct_criterion, match_notice, withdraw_criterion
from inspections.forms.notices import CriterionCorrectForm, CriterionForm, CriterionWithdrawForm
from inspections.jobs.notices import request_matching
from inspections.models import NoticeCriterion, SafetyNotice
from inspections.notice_search.searching import looked_at
from inspections.views.notice_forms import acted, visible_notice, who

AT_ONCE = 2000  # rows that are looked through while the person waits; more in the background
ADD = "inspections.add_safetynotice"


@permission_required(ADD, raise_exception=True)
@require_http_methods(FORM_METHODS)
def criterion_add(request, pk):
    """Add one line of what the notice names, and look through the register again."""
    found = visible_notice(request, pk)
    form = CriterionForm(posted(request))
    if acted(request, form, lambda: add_criterion(found, **who(request), **form.cleaned_data)):
        return searched_again(request, found)
    context = {
        "form": form, "notice": found, "title": "Add what the notice names", "cancel_url": found.get_absolute_url(),
        "submit": "Add, and search the register",
    }  # fmt: skip
    return render(request, "inspections/notice_form.html", context)


@permission_required(ADD, raise_exception=True)
@require_http_methods(FORM_METHODS)
def criterion_withdraw(request, pk):
    """Withdraw a line that the notice does not name; what it alone had found is closed."""
    found = _criterion(request, pk)
    form = CriterionWithdrawForm(posted(request))
    if acted(request, form, lambda: withdraw_criterion(found, **who(request), **form.cleaned_data)):
        return searched_again(request, found.notice)
    return _form(request, found, form, f"Withdraw “{found}”", "Withdraw, and search the register")


@permission_required(ADD, raise_exception=True)
@require_http_methods(FORM_METHODS)
def criterion_correct(request, pk):
    """Put another line in the place of one that was wrong."""
    found = _criterion(request, pk)
    form = CriterionCorrectForm(posted(request), initial=model_to_dict(found, CriterionForm.base_fields))
    if acted(request, form, lambda: correct_criterion(found, **who(request), **form.cleaned_data)):
        return searched_again(request, found.notice)
    return _form(request, found, form, f"Correct “{found}”", "Correct, and search the register")


@permission_required(ADD, raise_exception=True)
@require_POST
def notice_match(request, pk):
    return searched_again(request, visible_notice(request, pk))


def _criterion(request, pk):
    """A line in force of a notice that the person sees."""
    rows = NoticeCriterion.objects.in_force().filter(notice__in=SafetyNotice.objects.visible_to(request.user))
    return get_object_or_404(rows.select_related("notice", "model"), pk=pk)


def _form(request, found, form, title, submit):
    context = {
        "form": form, "notice": found.notice, "title": title, "cancel_url": found.notice.get_absolute_url(),
        "submit": submit, "withdraws": True,
    }  # fmt: skip
    return render(request, "inspections/notice_form.html", context)


def searched_again(request, found):
    """Search at once if the register is small enough, else in the background."""
    criteria = list(found.criteria.in_force())
    if sum(looked_at(criteria).values()) > AT_ONCE:
        return redirect(request_matching(found, **who(request)))
    added = match_notice(found, **who(request))
    messages.success(request, f"The register was searched: {added} new item{'' if added == 1 else 's'}.")
    return redirect(found)
