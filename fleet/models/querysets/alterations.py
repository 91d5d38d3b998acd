"""Queries about planned alterations, their machines and what was computed of them."""

from django.db import models
from django.db.models import Count, Exists, OuterRef, Q, Sum

from fleet.acting.querysets import JournaledQuerySet
from fleet.models.querysets.scoped import MachineRowQuerySet

PLANNED, DONE, LEFT_OUT = "planned", "carried out", "left out"


class AlterationPlanQuerySet(JournaledQuerySet):
    def visible_to(self, person):
        """Return the plans with a machine that `person` may see; a plan without machines only to whoever made it."""
        if not person.is_authenticated:
            return self.none()
        if not person.site_ids:
            return self
        rows = self.model._meta.get_field("machines").related_model.objects.filter(plan=OuterRef("pk"))
        return self.filter(Exists(rows.visible_to(person)) | Q(~Exists(rows), by=person))

    def found_by(self, text):
        return self.filter(Q(title__icontains=text) | Q(reason__icontains=text))

    def with_counts(self, person):
        """Add the number of machines in each state, of those that `person` may see."""
        own = Q() if not person.site_ids else Q(machines__machine__area__site__in=person.site_ids)
        return self.annotate(
            number=Count("machines", filter=own),
            planned=Count("machines", filter=own & Q(machines__state=PLANNED)),
            done=Count("machines", filter=own & Q(machines__state=DONE)),
            left_out=Count("machines", filter=own & Q(machines__state=LEFT_OUT)),
        ).select_related("by")


class AlterationEffectQuerySet(models.QuerySet):
    def of_rows(self, rows):
        """Add the number of machines among `rows` that share the effect, and of those still planned; the most first."""
        own = Q(machines__in=rows.order_by().values("pk"))
        return (
            self.annotate(
                number=Count("machines", filter=own), planned=Count("machines", filter=own & Q(machines__state=PLANNED))
            )
            .filter(number__gt=0)
            .order_by("-number", "title", "pk")
        )


class AlterationOfMachineQuerySet(MachineRowQuerySet):
    def with_place(self):
        return self.select_related(
            "machine__model", "machine__area__site", "settled_by", "effect", "change", "plan"
        ).order_by("machine__asset_number")

    def counts(self):
        """Return the number of machines in all and in each state, and the minutes of those carried out."""
        in_state = {
            name: Count("pk", filter=Q(state=state))
            for name, state in (("planned", PLANNED), ("done", DONE), ("left_out", LEFT_OUT))
        }
        return self.order_by().aggregate(total=Count("pk"), spent=Sum("minutes"), **in_state)

    def planned(self):
        return self.filter(state=PLANNED)

    def costs(self):
        """Return (currency, sum) of what was carried out and has a cost."""
        rows = self.filter(state=DONE, cost__isnull=False).order_by().values_list("currency")
        return list(rows.annotate(sum=Sum("cost")).order_by("currency"))

    def by_model_and_site(self):
        """Return (model key, site key, state, whether refused, machines): what estimates are added up from."""
        rows = self.order_by().values_list("machine__model", "machine__area__site", "state", "effect__refusal")
        return rows.annotate(n=Count("pk"))
