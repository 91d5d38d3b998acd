"""Questions about attached files, as QuerySet methods that read as English."""

from django.apps import apps
from django.db import models
from django.db.models import Q

from fleet.acting.querysets import JournaledQuerySet

OF_SITE = {
    "machine": "machine__area__site",
    "component": "component__machine__area__site",
    "calibration": "calibration__instrument__site",
    "finding": "finding__machine__area__site",
    "inspection": "inspection__machine__area__site",
}
MACHINE_OF = {
    "machine": "machine",
    "component": "component__machine",
    "finding": "finding__machine",
    "inspection": "inspection__machine",
}


class AttachmentQuerySet(JournaledQuerySet):
    def visible_to(self, person):
        """Those of what `person` may see; those of procedures everybody sees, as the procedures themselves."""
        if not person.is_authenticated:
            return self.none()
        if not person.site_ids:
            return self
        notices = apps.get_model("inspections", "SafetyNotice").objects.visible_to(person)
        seen = Q(version__isnull=False) | Q(notice__in=notices.values("pk"))
        return self.filter(seen | self._at(person.site_ids))

    def at(self, sites):
        """Those of things at these sites; a procedure and most notices are of none."""
        return self.filter(self._at(sites))

    @staticmethod
    def _at(sites):
        found = Q()
        for path in OF_SITE.values():
            found |= Q(**{f"{path}__in": sites})
        return found

    def of_machine(self, machine):
        """Those of a machine and of its components, findings and inspections."""
        found = Q()
        for path in MACHINE_OF.values():
            found |= Q(**{path: machine})
        return self.filter(found)

    def in_place(self):
        """Those that nobody withdrew."""
        return self.filter(withdrawn_at=None)

    def with_content_there(self):
        """Those whose file was not removed."""
        return self.filter(removed_at=None)

    def with_people(self):
        return self.select_related("by", "withdrawn_by", "removed_by")

    def with_subjects(self):
        return self.select_related(
            "machine__area__site", "component__machine__area__site", "calibration__instrument__site",
            "finding__machine__area__site", "inspection__machine__area__site", "inspection__procedure", "notice",
            "version__procedure",
        ).defer("content", "version__content")  # fmt: skip

    def with_content(self):
        return self.defer(None)


class AttachmentManager(models.Manager.from_queryset(AttachmentQuerySet)):
    """Reads attachments without their files, unless `with_content` asks for them."""

    def get_queryset(self):
        return super().get_queryset().defer("content")
