"""Settling several items of a notice at once, with the same words."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.web.form_methods import FORM_METHODS, posted
from inspections.actions import settle_items
from inspections.errors import Refused
from inspections.forms.notices import SettleManyForm
from inspections.models import NoticeItem, SafetyNotice

AT_ONCE = 100


@permission_required(["inspections.change_noticeitem", "inspections.view_safetynotice"], raise_exception=True)
@require_http_methods(FORM_METHODS)
def notice_settle(request, pk):
    """List the open items to be ticked, and what became of those; at most AT_ONCE at a time."""
    notice = get_object_or_404(SafetyNotice.objects.visible_to(request.user), pk=pk)
    rows = notice.items.visible_to(request.user).open().with_place().select_related("notice").order_by("pk")
    waiting = list(rows[: AT_ONCE + 1])
    items = waiting[:AT_ONCE]
    form = SettleManyForm(posted(request), waiting=items, initial={"state": NoticeItem.State.DONE})
    if request.method == "POST" and form.is_valid():
        try:
            return _settled(request, notice, form)
        except Refused as refused:
            form.add_error(None, str(refused))
    context = {
        "notice": notice, "items": items, "form": form, "has_more": len(waiting) > AT_ONCE,
        "ticked": set(request.POST.getlist("ticked")),
    }  # fmt: skip
    return render(request, "inspections/notice_settle.html", context)


def _settled(request, notice, form):
    words = {name: form.cleaned_data[name] for name in ("state", "words")}
    settled = settle_items(form.chosen, by=request.user, at=timezone.now(), **words)
    messages.success(request, f"{len(settled)} item{'' if len(settled) == 1 else 's'} settled.")
    return redirect(notice)
