"""The weights of the retirement review: those in force at a site, how far the ranking depends on them, other ones."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.catalogue import HAZARDS
from fleet.models import Machine, Site
from fleet.web.form_methods import FORM_METHODS, posted
from inspections.actions import weigh_review
from inspections.errors import Refused
from inspections.forms.weights import WeightsForm
from inspections.models import ReviewWeights
from inspections.retirement.gathering import rank_machines
from inspections.retirement.weights import weights_of_sites
from inspections.review import PARTS, sensitivity

MOST_SITES = 50
VERSIONS = 20


@permission_required("inspections.view_review", raise_exception=True)
@require_safe
def weights(request):
    """Go to the weights of the first site; without a site there is nothing to rank."""
    site = Site.objects.visible_to(request.user).first()
    return redirect("inspections:review_weights", site.pk) if site else redirect("inspections:review")


@permission_required("inspections.view_review", raise_exception=True)
@require_safe
def review_weights(request, pk):
    """Show every weight of a site, and the sensitivity of the ranking of its machines to each."""
    site = get_object_or_404(Site.objects.visible_to(request.user), pk=pk)
    machines = Machine.objects.visible_to(request.user).not_retired().filter(area__site=site)
    ranked = rank_machines(machines, timezone.localdate())
    weighed = weights_of_sites([site])[site.pk]
    found = sensitivity([each.review for each in ranked], weighed.weights)
    context = {
        "site": site,
        "sites": Site.objects.visible_to(request.user)[:MOST_SITES],
        "weighed": weighed,
        "found": found,
        "rows": [(one, *_values(one, weighed.weights)) for one in found.weights],
        "machines": len(ranked),
        "versions": ReviewWeights.objects.filter(site=site).select_related("by")[:VERSIONS],
    }
    return render(request, "inspections/review_weights.html", context)


def _values(one, weights):
    """The weight in force and the default."""
    if one.is_hazard:
        return weights.hazards[one.code], HAZARDS[one.code].weight
    return weights.burden[one.code], PARTS[one.code].weight


@permission_required("inspections.weigh_review", raise_exception=True)
@require_http_methods(FORM_METHODS)
def weights_change(request, pk):
    """Set other weights for a site, with a reason."""
    site = get_object_or_404(Site.objects.visible_to(request.user), pk=pk)
    form = WeightsForm(posted(request), weights=weights_of_sites([site])[site.pk].weights)
    if request.method == "POST" and form.is_valid():
        try:
            weigh_review(
                site, hazards=form.hazards, burden=form.burden, reason=form.cleaned_data["reason"], by=request.user,
                at=timezone.now(),
            )  # fmt: skip
        except Refused as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, f"The weights of {site} are set.")
            return redirect("inspections:review_weights", site.pk)
    return render(request, "inspections/weights_change.html", {"form": form, "site": site})
