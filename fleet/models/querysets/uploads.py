"""Questions about what values of files mean, and about rows that wait, as QuerySet methods that read as English."""

from django.db import models
from django.db.models import Q


class ValueMeaningQuerySet(models.QuerySet):
    def visible_to(self, person):
        """Return the meanings that count at the sites of the person; those of every site count there as well."""
        return self.filter(Q(site=None) | Q(site__in=person.site_ids)) if person.site_ids else self

    def of_kind(self, kind):
        """Return the meanings of every kind of file, those of this kind last, so that they are the ones that count."""
        own = models.Case(models.When(kind=kind.code, then=1), default=0)
        return self.annotate(own=own).order_by("own", "pk")


class WaitingRowQuerySet(models.QuerySet):
    def visible_to(self, person):
        """Return the person's own rows; somebody who is limited to no site sees those of all."""
        return self.filter(upload__by=person) if person.site_ids else self

    def of_kind(self, code):
        return self.filter(upload__kind=code)


class RegisterUploadQuerySet(models.QuerySet):
    def with_waiting_rows(self, person):
        """Return the imported files of which rows wait: the person's own, and all for somebody limited to no site."""
        files = self.filter(pk__in=self.filter(waiting__isnull=False).values("pk")).defer("content", "snapshot")
        return files.filter(by=person) if person.site_ids else files
