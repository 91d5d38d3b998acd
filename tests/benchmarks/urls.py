"""Every address of Bobbin and one more: an empty page of the same shell, which the measured pages are set beside."""

from django.shortcuts import render
from django.urls import include, path


def empty(request):
    return render(request, "base.html")


urlpatterns = [path("empty/", empty, name="empty"), path("", include("config.urls"))]
