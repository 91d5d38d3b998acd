"""One's own tokens: the list, confirming a requested one, revoking one."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from fleet.actions import confirm_token, revoke_token
from fleet.errors import TokenRefused
from fleet.forms.tokens import ConfirmTokenForm
from fleet.models import ApiToken
from fleet.tables.tokens import OwnTokenTable
from fleet.views.lists import TableList
from fleet.web.form_methods import FORM_METHODS, posted


class OwnTokenList(TableList):
    permission_required = ()
    table_class = OwnTokenTable
    template_name = "fleet/own_tokens.html"
    export_name = "own-tokens"

    def get_rows(self):
        return _own(self.request).in_order()

    def get_table_kwargs(self):
        return {"today": self.today}


@never_cache
@require_http_methods(FORM_METHODS)
def own_token_confirm(request, pk):
    """Ask for the password, and show the secret in the response, because it is not stored."""
    token = get_object_or_404(_own(request), pk=pk)
    form = ConfirmTokenForm(posted(request), request=request)
    if request.method == "POST" and form.is_valid():
        try:
            secret = confirm_token(token, by=request.user, at=timezone.now(), today=timezone.localdate())
        except TokenRefused as error:
            form.add_error(None, str(error))
        else:
            return render(request, "fleet/own_token_confirmed.html", {"token": token, "secret": secret})
    return render(request, "fleet/own_token_confirm.html", {"token": token, "form": form})


@require_http_methods(FORM_METHODS)
def own_token_revoke(request, pk):
    token = get_object_or_404(_own(request), pk=pk)
    if request.method != "POST":
        return render(request, "fleet/own_token_revoke.html", {"token": token})
    try:
        revoke_token(token, by=request.user, at=timezone.now())
        messages.success(request, f"The token “{token}” is revoked: requests with it are no longer accepted.")
    except TokenRefused as error:
        messages.error(request, str(error))
    return redirect("fleet:own_tokens")


def _own(request):
    return ApiToken.objects.owned_by(request.user).with_people()
