"""The page of the search."""

from django.contrib.auth.decorators import permission_required
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from config.search.groups import groups
from fleet.machine_page.find_one import machine_by_what_is_on_it

LONGEST = 80


@permission_required("fleet.view_machine", raise_exception=True)
@require_safe
def search(request):
    """Show what the text finds; go straight to a machine whose number it is, if it finds nothing else."""
    text = " ".join(request.GET.get("q", "").replace("\0", "").split())[:LONGEST]
    if not text:
        return render(request, "search.html", {"text": "", "groups": []})
    found = groups(request.user, text)
    others = [hit for group in found for hit in group.hits]
    machine = machine_by_what_is_on_it(request.user, request.GET["q"][:200]) if len(others) <= 1 else None
    if machine and all(hit.url == machine.get_absolute_url() for hit in others):
        return redirect(machine)
    return render(request, "search.html", {"text": text, "groups": found})
