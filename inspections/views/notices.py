"""Safety notices: the list, one with its items, entering, criteria, opening work, settling, closing."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.views.lists import TableList
from fleet.web.at_site import show_as_site
from fleet.web.form_methods import FORM_METHODS, posted
from fleet.web.query_values import choice_asked, page_asked
from inspections.actions import (
    add_notice,
    close_notice,
    open_finding_of_item,
    plan_work_of_item,
    settle_item,
)
from inspections.forms.notices import NoticeCloseForm, NoticeFilter, NoticeForm, SettleForm, WorkForm
from inspections.models import NoticeItem, SafetyNotice
from inspections.tables.notices import NoticeTable
from inspections.views.notice_forms import acted, visible_notice, who

PER_PAGE = 25
WORK_AT_ONCE = 200
VIEW, ADD, CHANGE = (f"inspections.{name}" for name in ("view_safetynotice", "add_safetynotice", "change_noticeitem"))
SHOWN = {
    "all": ("All", lambda items: items),
    "open": ("Open", lambda items: items.open()),
    "undecided": ("Cannot be decided", lambda items: items.filter(match="cannot be decided")),
    "settled": ("Settled", lambda items: items.exclude(state="open")),
}


class NoticeList(TableList):
    permission_required = VIEW
    filterset_class = NoticeFilter
    table_class = NoticeTable
    template_name = "inspections/notices.html"
    export_name = "notices"

    def get_rows(self):
        return SafetyNotice.objects.visible_to(self.request.user).with_counts(self.request.user)

    def get_table_kwargs(self):
        return {"today": self.today}


@permission_required(VIEW, raise_exception=True)
@require_safe
def notice(request, pk):
    """What the notice names, how many were looked at, and its items a page at a time."""
    found = visible_notice(request, pk)
    items = found.items.visible_to(request.user)
    chosen = choice_asked(request, "show", SHOWN, "all")
    page = page_asked(request, SHOWN[chosen][1](items).with_place().order_by("pk"), PER_PAGE)
    today = timezone.localdate()
    context = {
        "notice": found,
        "criteria": found.criteria.select_related("model", "added_by", "withdrawn_by"),
        "counts": items.counts(),
        "page": page,
        "tabs": [(name, label, name == chosen) for name, (label, _) in SHOWN.items()],
        "days_left": (found.answer_by - today).days if found.answer_by and found.is_open else None,
        "without_work": items.without_work().count() if found.is_open else 0,
    }
    return render(request, "inspections/notice.html", context)


@permission_required(ADD, raise_exception=True)
@require_http_methods(FORM_METHODS)
def notice_add(request):
    form = NoticeForm(posted(request), initial={"received_on": timezone.localdate()})
    made = acted(request, form, lambda: add_notice(**who(request), **form.cleaned_data))
    if made:
        messages.success(request, "The notice is entered. Add what it names.")
        return redirect("inspections:notice_criterion_add", made.pk)
    context = {"form": form, "title": "Enter a safety notice", "cancel_url": reverse("inspections:notices")}
    return render(request, "inspections/notice_form.html", context)


@permission_required(VIEW, raise_exception=True)
@require_http_methods(FORM_METHODS)
def item(request, pk):
    """One item: what is recorded of it, and what became of it; whoever may change items settles it here."""
    found = _item(request, pk)
    if request.method == "POST" and not request.user.has_perm(CHANGE):
        raise PermissionDenied
    initial = {"state": NoticeItem.State.DONE if found.is_open else found.state, "words": found.words}
    form = SettleForm(posted(request), initial=initial)
    if acted(request, form, lambda: settle_item(found, **who(request), **form.cleaned_data)):
        messages.success(request, f"{found}: {found.get_state_display().lower()}.")
        return redirect(found.notice)
    context = {"item": found, "notice": found.notice, "form": form, "plate": found.plate}
    return render(request, "inspections/notice_item.html", context)


@permission_required(CHANGE, raise_exception=True)
@require_http_methods(FORM_METHODS)
def item_work(request, pk):
    """Open a finding or plan an inspection for one item."""
    found = _item(request, pk)
    form = WorkForm(posted(request), is_of_inspections=found.inspection_id is not None)
    made = acted(request, form, lambda: _open_work([found], form.cleaned_data, request.user))
    if made:
        messages.success(request, f"Work on {found} is opened.")
        return redirect(made[0])
    context = {"form": form, "notice": found.notice, "title": f"Open work on {found}", "submit": "Open the work",
               "cancel_url": found.get_absolute_url()}  # fmt: skip
    return render(request, "inspections/notice_form.html", context)


@permission_required(CHANGE, raise_exception=True)
@require_http_methods(FORM_METHODS)
def notice_work(request, pk):
    """Open the same work on every open item that has none, at most WORK_AT_ONCE at a time."""
    found = visible_notice(request, pk)
    waiting = found.items.visible_to(request.user).without_work().with_place().select_related("notice")
    form = WorkForm(posted(request), is_of_inspections=found.calibration_id is not None)
    chosen = list(waiting.order_by("pk")[:WORK_AT_ONCE])
    made = acted(request, form, lambda: _open_work(chosen, form.cleaned_data, request.user))
    if made is not None:
        messages.success(request, f"Work is opened on {len(made)} item{'' if len(made) == 1 else 's'}.")
        return redirect(found)
    context = {"form": form, "notice": found, "title": f"Open work on {len(chosen)} open items",
               "submit": "Open the work", "cancel_url": found.get_absolute_url()}  # fmt: skip
    return render(request, "inspections/notice_form.html", context)


@permission_required(ADD, raise_exception=True)
@require_http_methods(FORM_METHODS)
def notice_close(request, pk):
    found = visible_notice(request, pk)
    form = NoticeCloseForm(posted(request))
    if acted(request, form, lambda: close_notice(found, **who(request), **form.cleaned_data)):
        messages.success(request, f"Notice {found} is closed. A new item opens it again.")
        return redirect(found)
    context = {"form": form, "notice": found, "title": f"Close notice {found}", "submit": "Close the notice",
               "cancel_url": found.get_absolute_url()}  # fmt: skip
    return render(request, "inspections/notice_form.html", context)


def _item(request, pk):
    found = get_object_or_404(
        NoticeItem.objects.visible_to(request.user).with_place().select_related("notice"), pk=pk
    )  # fmt: skip
    show_as_site(found.site)
    return found


@transaction.atomic
def _open_work(items, data, by):
    """Open the same work on each item, on all or on none, and return what was opened."""
    who = {"by": by, "at": timezone.now()}
    if data["work"] == WorkForm.FINDING:
        return [open_finding_of_item(one, severity=data["severity"], **who) for one in items]
    return [plan_work_of_item(one, procedure=data["procedure"], due_on=data["due_on"], **who) for one in items]
