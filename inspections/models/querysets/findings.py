"""Questions about findings, as QuerySet methods that read as English."""

from django.apps import apps
from django.db.models import Count, F, OuterRef, Q, Subquery
from django.db.models.functions import Coalesce

from fleet.models.querysets.machines import FEW, is_on, machines_numbered
from fleet.models.querysets.scoped import SiteScopedQuerySet
from inspections.models.querysets.sets_of_readings import passes_as_left


class FindingQuerySet(SiteScopedQuerySet):
    site_path = "machine__area__site"

    def open(self):
        return self.filter(closed_at=None)

    def closed(self):
        return self.exclude(closed_at=None)

    def count_open_and_closed(self):
        """Return how many are `open`, `closed` and closed but `not_coded`, in one query that reads each row once."""
        is_open = Q(closed_at__isnull=True)
        conditions = {"open": is_open, "closed": ~is_open, "not_coded": ~is_open & Q(code="")}
        return self.order_by().aggregate(**{name: Count("pk", filter=one) for name, one in conditions.items()})

    def open_first(self):
        """Those that are open, then those that were closed, the newest of each first."""
        return self.order_by(F("closed_at").desc(nulls_first=True), "-opened_at", "-pk")

    def worst_first(self):
        """The essential ones first, the newest of each first."""
        return self.order_by("severity", "-opened_at", "-pk")  # "essential" sorts before "other"

    def essential(self):
        return self.filter(severity="essential")

    def with_place(self):
        return self.select_related(
            "machine__model", "machine__area__site", "result__step__inspection", "step__inspection"
        )

    def found_by(self, text):
        """Keep the findings whose title, description or machine contains `text`."""
        words = Q(title__icontains=text) | Q(description__icontains=text)
        return self.filter(is_on(machines_numbered(text)) | words)

    def of_untested(self):
        """Essential steps that an incomplete inspection did not test."""
        return self.filter(origin="not tested")

    def of_circuit(self):
        """What a circuit and the record of its machine disagree about; not a fault of the machine."""
        return self.filter(origin="circuit")

    def of_faults(self):
        """Failed results and fault reports: not what a notice asks for, nor that a machine could not be located."""
        return self.exclude(origin__in=("circuit", "notice", "not located", "altered"))

    def coded(self):
        """Those that bear a code that says why it was wrong."""
        return self.exclude(code="")

    def not_coded(self):
        return self.filter(code="")

    def opened_before(self, moment):
        return self.filter(opened_at__lt=moment)

    def awaiting_withdrawal(self):
        """Essential, open, and the machine is still in service: somebody must decide.

        Not one that failed as found and passes as left in the same inspection: the machine is as that shows it. Those
        that were repaired are few; they are looked for first, in a query of their own, and judged in another.
        """
        there = self.open().essential().filter(machine__status="in service")
        repaired = list(there.repaired().order_by().values_list("pk", flat=True)[: FEW + 1])
        if len(repaired) > FEW:
            return there.exclude(passes_as_left())
        if not repaired:
            return there
        passed = self.model.objects.filter(pk__in=repaired).passed_as_left().order_by()
        return there.exclude(pk__in=list(passed.values_list("pk", flat=True)))

    def repaired(self):
        """Those whose step has a later set of readings than the one that failed."""
        steps = apps.get_model("inspections", "InspectionStep").objects.filter(is_last=False).order_by()
        results = apps.get_model("inspections", "Result").objects.filter(step__in=steps.values("pk")).order_by()
        return self.filter(result__in=results.values("pk"))

    def passed_as_left(self):
        """Failed as found, repaired during the inspection, and all of the step passes as left."""
        return self.filter(passes_as_left())

    def opened_since(self, moment):
        return self.filter(opened_at__gte=moment)


def machines_with_findings(machines):
    """Annotate machines with `open_findings` and `essential_findings`, how many of them are open."""
    there = apps.get_model("inspections", "Finding").objects.open().filter(machine=OuterRef("pk"))
    return machines.annotate(open_findings=_number(there), essential_findings=_number(there.essential()))


def _number(findings):
    return Coalesce(Subquery(findings.order_by().values("machine").annotate(n=Count("pk")).values("n")), 0)
