"""The home page and the error pages."""

from django.contrib.auth.decorators import permission_required
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from config.groups import groups_of
from config.home import chiefs_for, home_parts, retirement_items, shown_steps
from fleet.catalogue import FEATURES, HAZARDS, FeatureClass


@require_safe
def home(request):
    """Show what each of the person's groups does next; a superuser sees all of it, a person in no group whom to ask."""
    groups = groups_of(request.user)
    parts = home_parts(request.user, groups, timezone.now(), timezone.localdate())
    context = {
        "parts": parts,
        "groups": groups,
        "chiefs": [] if groups else chiefs_for(request.user),
        "steps": shown_steps(request.user, groups, timezone.localdate()),
    }
    return render(request, "home.html", context)


@require_safe
def style_sheet(request):
    """Show every element of the stylesheet, for those who write pages."""
    return render(request, "styleguide.html")


@permission_required("inspections.view_review", raise_exception=True)
@require_safe
def home_retirement(request):
    """Show the sentences of the retirement review, which Home fetches after it has loaded."""
    items = retirement_items(request.user, timezone.localdate())
    return render(request, "_home_items.html", {"items": items})


@permission_required("inspections.view_procedure", raise_exception=True)
@require_safe
def library(request):
    """Show the Library: procedures, bench tests, safety features and limits set here."""
    return render(request, "library.html")


@permission_required("fleet.view_machine", raise_exception=True)
@require_safe
def protections(request):
    """Show the catalogue of safety features by class, each with the hazards that it covers and its source."""
    classes = [
        (
            kind,
            [(one, [HAZARDS[code] for code in one.hazards]) for one in FEATURES.values() if one.feature_class is kind],
        )
        for kind in FeatureClass
    ]
    return render(request, "protections.html", {"classes": classes, "hazards": HAZARDS.values()})


def bad_request(request, exception=None):
    return render(request, "400.html", status=400)


def permission_denied(request, exception=None):
    return render(request, "403.html", status=403)


def page_not_found(request, exception=None):
    return render(request, "404.html", status=404)
