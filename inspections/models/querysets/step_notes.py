"""Questions about photographs, as QuerySet methods that read as English."""

from django.db import models
from django.db.models import Q

from fleet.acting.querysets import JournaledQuerySet

PICTURES = ("content", "preview")  # columns of many bytes, read only where a picture is shown


class PhotographQuerySet(JournaledQuerySet):
    def visible_to(self, person):
        """Those of steps and findings at the sites that `person` may see."""
        if not person.is_authenticated:
            return self.none()
        return self.at(person.site_ids) if person.site_ids else self

    def at(self, sites):
        """Those of machines at these sites."""
        of_step = Q(step__inspection__machine__area__site__in=sites)
        return self.filter(of_step | Q(finding__machine__area__site__in=sites))

    def in_place(self):
        """Those that nobody removed."""
        return self.filter(removed_at=None)

    def with_people(self):
        return self.select_related("by")

    def with_pictures(self):
        return self.defer(None)


class PhotographManager(models.Manager.from_queryset(PhotographQuerySet)):
    """Reads photographs without their pictures, unless `with_pictures` asks for them."""

    def get_queryset(self):
        return super().get_queryset().defer(*PICTURES)
