"""Purchases of many machines, pasted as a list."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.actions import enter_purchases
from fleet.errors import Refused
from fleet.forms.purchases_paste import PurchasesForm
from fleet.web.form_methods import FORM_METHODS, posted


@permission_required("fleet.enter_money", raise_exception=True)
@require_http_methods(FORM_METHODS)
def purchases_paste(request):
    """Enter the purchases of a list, all or none."""
    form = PurchasesForm(posted(request), person=request.user)
    if request.method == "POST" and form.is_valid():
        try:
            rows = enter_purchases(
                form.purchases, source=form.cleaned_data["source"], by=request.user, at=timezone.now()
            )
        except Refused as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, f"{len(rows)} purchases are saved.")
            return redirect("fleet:money_list", "purchases")
    return render(request, "fleet/purchases_paste.html", {"form": form})
