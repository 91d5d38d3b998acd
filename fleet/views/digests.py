"""The email digest: each person chooses."""

from django.conf import settings
from django.contrib import messages
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from fleet.actions import choose_digest
from fleet.forms.digests import DigestForm
from fleet.web.form_methods import FORM_METHODS, posted


@require_http_methods(FORM_METHODS)
def digest(request):
    """Choose whether this person gets the digest, and at which address."""
    form = DigestForm(posted(request), instance=request.user)
    if request.method == "POST" and form.is_valid():
        choose_digest(request.user, **form.cleaned_data)
        messages.success(
            request,
            "You will receive the daily email."
            if form.cleaned_data["wants_digest"]
            else "You will not receive the daily email.",
        )
        return redirect("home")
    return render(request, "fleet/digest.html", {"form": form, "is_mail_set_up": bool(settings.EMAIL_URL)})
