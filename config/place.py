"""The time zone and the formats of a page that belongs to no one site."""

from django.utils import timezone

from fleet.place_format import NEUTRAL, using
from fleet.web.at_site import show_as_site


class PlaceOfPerson:
    """Show pages as the only site of the person does; with several sites, in TIME_ZONE and neutral formats.

    A page of one machine, inspection or instrument changes to the formats of its site (fleet.web.at_site.show_as_site).
    """

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        with using(NEUTRAL), timezone.override(None):
            return self.get_response(request)

    def process_view(self, request, view_func, args, kwargs):
        if request.user.is_authenticated and (site := request.user.only_site):
            show_as_site(site)


def place(request):
    """Context processor: `zone_name`, the time zone in which the page shows times."""
    return {"zone_name": timezone.get_current_timezone_name}
