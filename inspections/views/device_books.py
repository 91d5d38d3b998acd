"""Device books: of one machine, and of chosen machines of the list, made in the background."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.forms.machines import MachineFilter
from fleet.machine_page.head import head_today
from fleet.models import Machine
from fleet.views.machines import visible_machine
from fleet.web.form_methods import FORM_METHODS
from inspections.device_book.content import NOT_HELD, TITLES
from inspections.errors import Refused
from inspections.forms.device_books import NumbersForm, ticked_machines
from inspections.jobs.device_books import MOST_MACHINES, request_device_books
from inspections.models import DeviceBook

MAKE = "inspections.make_devicebook"
SHOWN = 200  # machines of the list that can be ticked
MADE_SHOWN = 20


@permission_required([MAKE, "fleet.view_machine"], raise_exception=True)
@require_http_methods(FORM_METHODS)
def device_book(request, pk):
    """What the book of a machine holds, those that were made, and the button that makes one."""
    machine = visible_machine(request, pk)
    if request.method == "POST":
        only = Machine.objects.visible_to(request.user).filter(pk=machine.pk)
        return redirect(request_device_books(only, by=request.user, at=timezone.now()))
    made = DeviceBook.objects.filter(machine=machine).select_related("made_by")[:MADE_SHOWN]
    context = {**head_today(machine, "Device book"), "made": made, "parts": TITLES, "not_held": NOT_HELD}
    return render(request, "inspections/device_book.html", context)


@permission_required([MAKE, "fleet.view_machine"], raise_exception=True)
@require_http_methods(FORM_METHODS)
def device_books(request):
    """The machines that the filter of the list keeps, to be ticked; their books as one archive."""
    visible = Machine.objects.with_place().visible_to(request.user)
    machines = MachineFilter(request.GET, visible, request=request).rows()
    numbers = NumbersForm(request.POST if "numbers" in request.POST else None, person=request.user)
    if request.method == "POST" and (not numbers.is_bound or numbers.is_valid()):
        try:
            ticked = ticked_machines(machines, request.POST.getlist("machine"))
            chosen = numbers.machines if numbers.is_bound else ticked
            return redirect(request_device_books(chosen, by=request.user, at=timezone.now()))
        except Refused as refused:
            messages.error(request, str(refused))
            return redirect(f"{reverse('inspections:device_books')}?{request.GET.urlencode()}")
    shown = list(machines.order_by("asset_number")[: SHOWN + 1])
    context = {
        "machines": shown[:SHOWN], "has_more": len(shown) > SHOWN, "shown": SHOWN, "most": MOST_MACHINES,
        "parts": TITLES, "not_held": NOT_HELD, "numbers": numbers,
    }  # fmt: skip
    return render(request, "inspections/device_books.html", context)
