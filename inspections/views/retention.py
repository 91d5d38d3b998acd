"""How long what is kept: the rules, the files that are proposed for removal, and the removal of one."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.web.form_methods import FORM_METHODS, posted
from fleet.web.query_values import page_asked
from inspections.actions import remove_attachment_content
from inspections.errors import Refused
from inspections.forms.attachments import RemoveFileForm
from inspections.models import Attachment
from inspections.retention.passed import has_passed, passed
from inspections.retention.rules import RULE_OF, RULES
from inspections.views.attachments import REMOVE, VIEW, visible_attachment

PER_PAGE = 25


@permission_required(VIEW, raise_exception=True)
@require_safe
def retention(request):
    """The rules with how many files have passed each, and those files. Nothing is ever removed by itself."""
    today, visible = timezone.localdate(), Attachment.objects.visible_to(request.user)
    lines = [(rule, passed(visible, today, [rule]).count() if rule.is_removable else None) for rule in RULES]
    rows = passed(visible, today).with_subjects().with_people().order_by("pk")
    context = {"lines": lines, "page": page_asked(request, rows, PER_PAGE), "may_remove": request.user.has_perm(REMOVE)}
    return render(request, "inspections/retention.html", context)


@permission_required([VIEW, REMOVE], raise_exception=True)
@require_http_methods(FORM_METHODS)
def attachment_remove(request, pk):
    """Say what stays, and remove the file with a reason."""
    found, now = visible_attachment(request, pk), timezone.now()
    form = RemoveFileForm(posted(request), is_in_place=found.is_in_place)
    if request.method == "POST" and form.is_valid():
        try:
            remove_attachment_content(found, by=request.user, at=now, **form.cleaned_data)
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, f"The file of “{found}” is removed. Its row and its digest stay.")
            return redirect(found)
    today = found.site.date_of(now) if found.site else timezone.localdate(now)
    context = {"attachment": found, "form": form, "rule": RULE_OF[found.of], "is_over": has_passed(found, today)}
    return render(request, "inspections/attachment_remove.html", context)
