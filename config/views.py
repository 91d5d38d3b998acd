"""The home page and the error pages."""

from django.shortcuts import render


def home(request):
    return render(request, "home.html")


def style_sheet(request):
    """Show every component of the look, for those who write pages."""
    return render(request, "styleguide.html")


def library(request):
    """What Bobbin knows: procedures, bench tests, protections and limits set here."""
    return render(request, "library.html")


def bad_request(request, exception=None):
    return render(request, "400.html", status=400)


def permission_denied(request, exception=None):
    return render(request, "403.html", status=403)


def page_not_found(request, exception=None):
    return render(request, "404.html", status=404)


def server_error(request):
    return render(request, "500.html", status=500)
