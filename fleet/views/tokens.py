"""The tokens of programs: the list, requesting one, revoking one. The owner confirms it (own_tokens.py)."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.actions import add_token, revoke_token
from fleet.errors import TokenRefused
from fleet.forms.tokens import TokenForm
from fleet.models import ApiToken
from fleet.tables.tokens import TokenTable
from fleet.views.lists import TableList
from fleet.web.form_methods import FORM_METHODS, posted

MANAGE = "fleet.manage_people"


class TokenList(TableList):
    permission_required = MANAGE
    table_class = TokenTable
    template_name = "fleet/api_tokens.html"
    export_name = "tokens"

    def get_rows(self):
        return ApiToken.objects.visible_to(self.request.user).with_people().in_order()

    def get_table_kwargs(self):
        return {"today": self.today}


@permission_required(MANAGE, raise_exception=True)
@require_http_methods(FORM_METHODS)
def api_token_add(request):
    form = TokenForm(posted(request), person=request.user)
    if request.method == "POST" and form.is_valid():
        try:
            token = add_token(by=request.user, at=timezone.now(), today=timezone.localdate(), **form.cleaned_data)
            return render(request, "fleet/api_token_added.html", {"token": token})
        except TokenRefused as error:
            form.add_error(None, str(error))
    return render(request, "fleet/api_token_add.html", {"form": form})


@permission_required(MANAGE, raise_exception=True)
@require_http_methods(FORM_METHODS)
def api_token_revoke(request, pk):
    token = get_object_or_404(ApiToken.objects.visible_to(request.user).with_people(), pk=pk)
    if request.method != "POST":
        return render(request, "fleet/api_token_revoke.html", {"token": token})
    try:
        revoke_token(token, by=request.user, at=timezone.now())
    except TokenRefused as error:
        messages.error(request, str(error))
    else:
        messages.success(request, f"The token “{token}” is revoked.")
    return redirect("fleet:api_tokens")
