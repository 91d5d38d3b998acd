"""The pages of one machine: overview, safety features, components, history."""

from django.contrib.auth.decorators import permission_required
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.views.decorators.http import require_safe

from fleet.circuits.covers.panel import gaps_panel
from fleet.extensions import MachineAction, machine_actions, machine_events, machine_facts, machine_panels
from fleet.machine_page.find_one import machine_by_what_is_on_it
from fleet.machine_page.head import head_on, head_today
from fleet.machine_page.history import newest_first, register_events
from fleet.machine_page.state_on_day import components_on, feature_groups
from fleet.models import AreaPeriod, MachineStatus
from fleet.views.machines import machine_on_day, visible_machine
from fleet.web.query_values import page_asked

EVENTS_ON_PAGE = 4
EVENTS_AT_ALL = 500
EVENTS_PER_PAGE = 40
AREAS_SHOWN = 20  # the newest; older moves stand in the events
LONGEST_SEARCH, LONGEST_IN_LIST = 200, 80


@permission_required("fleet.view_machine", raise_exception=True)
@require_safe
def machine_page(request, pk):
    """Show the overview. With a day in the address, go to the safety features as they were on that day."""
    machine, day, today, circuit = machine_on_day(request, pk)
    if request.GET.get("on"):
        return redirect(f"{reverse('fleet:machine_features', args=[pk])}?on={day.isoformat()}")
    context = {
        **head_on(machine, day, today),
        "panels": _panels(request, machine, circuit, day),
        "facts": machine_facts(request, machine),
        "actions": [*machine_actions(request, machine), *_own_actions(request.user, machine)],
        "events": _events(request, machine, EVENTS_ON_PAGE),
    }
    return render(request, "fleet/machine.html", context)


@permission_required("fleet.view_machine", raise_exception=True)
@require_safe
def machine_find(request):
    """Go to the machine that bears the text asked for, else to the machines that match it."""
    text = request.GET.get("q", "").strip()[:LONGEST_SEARCH]
    machine = machine_by_what_is_on_it(request.user, text) if text else None
    if machine:
        return redirect(machine)
    return redirect(reverse("fleet:machines", query={"q": text[:LONGEST_IN_LIST], "status": "any"}))


@permission_required("fleet.view_machine", raise_exception=True)
@require_safe
def machine_features(request, pk):
    """Show every safety feature of the catalogue as it was on a day."""
    machine, day, today, _ = machine_on_day(request, pk)
    context = {
        **head_on(machine, day, today, "Safety features"),
        "groups": feature_groups(machine, day),
        "can_record": day == today and request.user.has_perm("fleet.add_featurestate"),
    }
    return render(request, "fleet/machine_features.html", context)


@permission_required("fleet.view_machine", raise_exception=True)
@require_safe
def machine_components(request, pk):
    """Show the recorded components of the gas circuit as they were on a day."""
    machine, day, today, circuit = machine_on_day(request, pk)
    context = {
        **head_on(machine, day, today, "Components"),
        "circuit": circuit,
        "components": components_on(machine, day),
        "can_fit": day == today and request.user.has_perm("fleet.add_component"),
    }
    return render(request, "fleet/machine_components.html", context)


@permission_required("fleet.view_machine", raise_exception=True)
@require_safe
def machine_history(request, pk):
    machine = visible_machine(request, pk)
    page = page_asked(request, _events(request, machine, EVENTS_AT_ALL), EVENTS_PER_PAGE)
    areas = AreaPeriod.objects.filter(machine=machine).select_related("area__site", "by")[:AREAS_SHOWN]
    context = {**head_today(machine, "History"), "page": page, "areas": areas}
    return render(request, "fleet/machine_history.html", context)


def _panels(request, machine, circuit, day):
    own = gaps_panel(machine, circuit, feature_groups(machine, day))
    return [
        render_to_string(template, context, request) for template, context in [*machine_panels(request, machine), own]
    ]


def _events(request, machine, limit):
    return newest_first([*register_events(machine, limit), *machine_events(request, machine, limit)], limit)


def _own_actions(person, machine):
    actions = []
    if machine.status == MachineStatus.IN_SERVICE and person.has_perm("fleet.withdraw_machine"):
        actions.append(
            MachineAction("Withdraw from use", reverse("fleet:machine_withdraw", args=[machine.pk]), "danger")
        )
    if machine.status != MachineStatus.RETIRED and person.has_perm("fleet.retire_machine"):
        actions.append(MachineAction("Retire", reverse("fleet:machine_retire", args=[machine.pk]), "danger"))
    if person.has_perm("fleet.change_machine"):
        actions.append(MachineAction("Correct entry", reverse("fleet:machine_edit", args=[machine.pk])))
    return actions
