"""Questions about readings and results, as QuerySet methods that read as English."""

from django.db import models
from django.db.models import F, Q, Window
from django.db.models.functions import RowNumber

from fleet.acting.querysets import JournaledQuerySet
from fleet.models.querysets.scoped import SiteScopedQuerySet
from inspections.bench.decision_words import FAILED, JUDGED_WORST_FIRST
from inspections.models.querysets.inspections import SIGNED_STAGES
from inspections.models.querysets.sets_of_readings import failed_before, that_decides

MEASURED = (*JUDGED_WORST_FIRST, "not decided")


class NotTestedMarkQuerySet(JournaledQuerySet):
    def in_force(self):
        """The marks that nobody undid; a step has at most one."""
        return self.filter(undone_at=None)

    def with_people(self):
        return self.select_related("by", "undone_by")


class ReadingQuerySet(models.QuerySet):
    def current(self):
        """The current readings; corrected ones stay in the table but do not count."""
        return self.filter(superseded_at=None)

    def contested(self):
        """Saved beside a current reading, until somebody chooses between the two."""
        return self.filter(contests__isnull=False, settled_at=None)

    def corrected(self):
        """Those that were replaced, taken back or not chosen."""
        return self.exclude(superseded_at=None).exclude(contests__isnull=False, settled_at=None)

    def with_everybody(self):
        """With the instrument, and with whoever entered, replaced or chose."""
        return self.select_related("instrument", "token", "entered_by", "superseded_by", "settled_by")

    def that_matter(self):
        """The current readings and those contested beside them."""
        return self.filter(Q(superseded_at=None) | Q(contests__isnull=False, settled_at=None))


class ResultQuerySet(SiteScopedQuerySet):
    site_path = "step__inspection__machine__area__site"

    def failed(self):
        return self.filter(decision__in=FAILED)

    def that_decide(self, inspection):
        """The results on which decisions about an inspection rest; of a step repaired meanwhile, those as left."""
        return self.filter(that_decides(), step__inspection=inspection)

    def failures(self):
        """Failed results, each once: a failure as left repeats the one of the same result in an earlier set."""
        return self.failed().exclude(failed_before())

    def of_machine(self, machine):
        return self.filter(step__inspection__machine=machine)

    def latest_first(self):
        return self.order_by("-step__inspection__signed_at", "step__position", "pk")

    def recent_of_each(self, machine, count):
        """The last `count` signed values of each result of a machine, the newest first; `rank` 1 is the latest.

        A result is identified by test, subject, the item that a step checks, and key.
        """
        rank = Window(
            RowNumber(),
            partition_by=[F("step__test_code"), F("step__subject"), F("step__content__item"), F("key")],
            order_by=[F("step__inspection__signed_at").desc(), F("step__set_number").desc(), F("pk").desc()],
        )
        signed = self.of_machine(machine).filter(step__inspection__stage__in=SIGNED_STAGES)
        return signed.annotate(rank=rank).filter(rank__lte=count)

    def measured_over_time(self, test_code, *, since):
        """Signed figures of a test that were judged, or not decided because they are too uncertain; oldest first.

        A value that proved nothing, for its challenge was not met, is not among them.
        """
        signed = self.filter(step__inspection__stage__in=SIGNED_STAGES, step__inspection__signed_at__gte=since)
        figures = signed.filter(step__test_code=test_code, value__isnull=False, decision__in=MEASURED)
        in_order = ("step__inspection__signed_at", "step__set_number", "pk")
        return figures.exclude(unit="yes/no").exclude(step__inspection__machine__status="retired").order_by(*in_order)

    def before(self, inspection):
        """Results of the same machine signed before `inspection` was, or at all if it is not signed."""
        earlier = self.of_machine(inspection.machine_id).exclude(step__inspection=inspection)
        return earlier.filter(step__inspection__signed_at__lt=inspection.signed_at) if inspection.signed_at else earlier
