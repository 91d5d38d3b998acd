"""Questions about labels and what arrives by them, as QuerySet methods that read as English."""

from django.db.models import OuterRef, Q, Subquery

from fleet.models.querysets.scoped import MachineRowQuerySet, SiteScopedQuerySet
from inspections.models.label_codes import normalised


class MachineLabelQuerySet(MachineRowQuerySet):
    def in_force(self):
        return self.filter(replaced_at=None)

    def with_code(self, text):
        """Keep the label whose code this is, as printed or as somebody typed it."""
        return self.filter(code=normalised(text))

    def with_place(self):
        return self.select_related("machine__model", "machine__area__site")


class FaultReportQuerySet(MachineRowQuerySet):
    def waiting(self):
        return self.filter(state="waiting")

    def settled(self):
        return self.exclude(state="waiting")

    def by_settled_state(self):
        """Return what is settled in parts, one for each state."""
        return [self.filter(state=state) for state in ("finding", "dismissed")]

    def reported_since(self, moment):
        return self.filter(reported_at__gte=moment)

    def with_place(self):
        return self.select_related("machine__model", "machine__area__site", "settled_by", "finding")

    def found_by(self, text):
        """Keep the reports whose text, reporter or machine contains `text`."""
        words = Q()
        for path in ("what", "where", "who", "machine__asset_number"):
            words |= Q(**{f"{path}__icontains": text})
        return self.filter(words)


class UserCheckQuerySet(MachineRowQuerySet):
    def daily(self):
        return self.filter(kind="daily")

    def by_first_user(self):
        return self.filter(kind="first-user")

    def without_problem(self):
        return self.filter(result="done")

    def since(self, moment):
        return self.filter(at__gte=moment)

    def worth_an_event(self):
        """First-user checks, and problems; a daily check without one would fill the history."""
        return self.filter(Q(kind="first-user") | Q(result="problem"))

    def latest_of_each_kind(self, machine):
        """The newest check of each kind of one machine; one query."""
        newest = self.model.objects.filter(machine=machine, kind=OuterRef("kind")).order_by("-at", "-pk")
        return self.filter(machine=machine, pk=Subquery(newest.values("pk")[:1]))


class FaultPhotographQuerySet(SiteScopedQuerySet):
    site_path = "report__machine__area__site"
