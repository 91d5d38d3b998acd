"""The money of one machine: purchase, replacement, contracts, and what it costs in a year."""

from django.contrib.auth.decorators import permission_required
from django.shortcuts import render
from django.views.decorators.http import require_safe

from fleet.machine_page.head import head_today
from fleet.models import ServiceContract, SparePartCost
from fleet.place_format import money_text
from fleet.views.machines import visible_machine
from fleet.views.money_rows import amount_line
from inspections.retirement.machine_costs import costs_of, purchase_of, replacement_price_of

MOST = 25


@permission_required("fleet.view_money", raise_exception=True)
@require_safe
def machine_money(request, pk):
    """Show what is known of the money of a machine, and say what is not."""
    machine = visible_machine(request, pk)
    head = head_today(machine, "Money")
    costs = costs_of([machine], head["today"])[machine.pk]
    purchase, replacement = purchase_of(machine), replacement_price_of(machine.model)
    contracts = ServiceContract.objects.reaching(machine).with_subject()[:MOST]
    parts = SparePartCost.objects.in_force().filter(machine=machine).with_subject()[:MOST]
    context = {
        **head,
        "costs": costs,
        "cost_lines": [
            (line, "not known" if line.amount is None else money_text(line.amount, costs.currency))
            for line in costs.lines
        ],
        "yearly": None if costs.yearly is None else money_text(costs.yearly, costs.currency),
        "purchase": purchase and amount_line(purchase),
        "replacement": replacement and amount_line(replacement),
        "contracts": [amount_line(row) for row in contracts],
        "parts": [amount_line(row) for row in parts],
        "most": MOST,
    }
    return render(request, "inspections/machine_money.html", context)
