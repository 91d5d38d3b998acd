"""Every address of Bobbin, and an empty page of the same shell, the baseline of the measured pages."""

from django.shortcuts import render
from django.urls import include, path


def empty(request):
    return render(request, "base.html")


urlpatterns = [path("empty/", empty, name="empty"), path("", include("config.urls"))]
