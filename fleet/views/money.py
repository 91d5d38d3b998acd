"""Prices and costs: the lists of each kind, entering an amount, withdrawing a wrong one."""

from dataclasses import dataclass

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.actions import choose_currency, enter_amount, withdraw_amount
from fleet.errors import Refused
from fleet.forms import money as forms
from fleet.models import (
    AlterationPrice,
    CostRate,
    MachinePurchase,
    ReplacementPrice,
    ServiceContract,
    SiteCurrency,
    SparePartCost,
)
from fleet.views.money_rows import amount_line
from fleet.web.form_methods import FORM_METHODS, posted
from fleet.web.query_values import page_asked

PER_PAGE = 25


@dataclass(frozen=True, slots=True)
class MoneyKind:
    """A kind of amount: `code` in addresses, title of its list, what the button enters."""

    code: str
    title: str
    one: str
    model: type
    form: type
    about: str


KINDS = {
    kind.code: kind
    for kind in (
        MoneyKind("currencies", "Currencies", "currency", SiteCurrency, forms.SiteCurrencyForm,
                  "Each site reckons in one currency. Amounts are never converted."),
        MoneyKind("purchases", "Purchases", "purchase", MachinePurchase, forms.PurchaseForm,
                  "When a machine was bought, and for how much. The entry made last counts."),
        MoneyKind("replacements", "Replacement prices", "replacement price", ReplacementPrice,
                  forms.ReplacementPriceForm,
                  "What a new machine in place of one of the model costs. The latest date counts."),
        MoneyKind("alterations", "Prices of alterations", "price of an alteration", AlterationPrice,
                  forms.AlterationPriceForm,
                  "What it costs to fit a safety feature, or take an unwanted one off. A price for the model comes "
                  "before one for any model."),
        MoneyKind("contracts", "Service contracts", "service contract", ServiceContract, forms.ContractForm,
                  "For one machine, or for every machine of a model at a site."),
        MoneyKind("rates", "Hourly rates", "hourly rate", CostRate, forms.RateForm,
                  "What an hour of a technician's work costs at a site."),
        MoneyKind("spare-parts", "Spare parts", "cost of spare parts", SparePartCost, forms.SparePartForm,
                  "What was bought for a machine."),
    )
}  # fmt: skip


def kind_or_404(code):
    if code not in KINDS:
        raise Http404(f"There is no kind of amount “{code}”.")
    return KINDS[code]


@permission_required("fleet.view_money", raise_exception=True)
@require_safe
def money(request):
    return redirect("fleet:money_list", "replacements")


@permission_required("fleet.view_money", raise_exception=True)
@require_safe
def money_list(request, kind):
    """List the amounts of one kind that are in force, a page at a time."""
    shown = kind_or_404(kind)
    rows = shown.model.objects.visible_to(request.user).with_subject()
    if shown.model is not SiteCurrency:
        rows = rows.in_force()
    page = page_asked(request, rows, PER_PAGE)
    context = {"kinds": KINDS.values(), "kind": shown, "page": page, "lines": [amount_line(row) for row in page]}
    return render(request, "fleet/money.html", context)


@permission_required("fleet.enter_money", raise_exception=True)
@require_http_methods(FORM_METHODS)
def money_add(request, kind):
    """Enter an amount; `machine` and `model` of the address fill the form."""
    shown = kind_or_404(kind)
    initial = {name: request.GET[name][:40] for name in ("machine", "model") if name in request.GET}
    form = shown.form(posted(request), person=request.user, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            _enter(shown, form.cleaned_data, request.user)
        except Refused as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, f"The {shown.one} is saved.")
            return redirect("fleet:money_list", kind)
    return render(request, "fleet/money_add.html", {"form": form, "kind": shown})


def _enter(kind, data, person):
    if kind.model is SiteCurrency:
        return choose_currency(data["site"], data["currency"], by=person, at=timezone.now())
    return enter_amount(kind.model, **data, by=person, at=timezone.now())


@permission_required("fleet.enter_money", raise_exception=True)
@require_http_methods(FORM_METHODS)
def money_withdraw(request, kind, pk):
    """Withdraw an amount with a reason; it stays readable among the changes."""
    shown = kind_or_404(kind)
    if shown.model is SiteCurrency:
        raise Http404("A currency is chosen again, not withdrawn.")
    row = get_object_or_404(shown.model.objects.visible_to(request.user).in_force().with_subject(), pk=pk)
    form = forms.WithdrawAmountForm(posted(request))
    if request.method == "POST" and form.is_valid():
        try:
            withdraw_amount(row, reason=form.cleaned_data["reason"], by=request.user, at=timezone.now())
        except Refused as error:
            form.add_error("reason", str(error))
        else:
            messages.success(request, f"The {shown.one} is withdrawn.")
            return redirect("fleet:money_list", kind)
    context = {"form": form, "kind": shown, "line": amount_line(row)}
    return render(request, "fleet/money_withdraw.html", context)
