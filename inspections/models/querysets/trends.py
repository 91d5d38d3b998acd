"""Questions about stored forecasts, as QuerySet methods that read as English."""

from django.db.models import Count, F, Max, Q

from fleet.models.querysets.scoped import MachineRowQuerySet
from inspections.trends import Advice


class TrendForecastQuerySet(MachineRowQuerySet):
    def towards_a_limit(self):
        """Those of results with a limit, on machines that are not retired."""
        return self.filter(chance__isnull=False).exclude(machine__status="retired")

    def to_watch(self):
        """Those that call for somebody: the chance of being outside when next due passes the policy."""
        return self.filter(advice__in=(Advice.COME_EARLIER, Advice.MEASURE_BETTER))

    def with_advice(self, advice):
        return self.filter(advice=advice)

    def counts_of_advice(self):
        """Return how many trends call for what (`earlier`, `better`, `every`), and `made_at`; one query."""
        return self.order_by().aggregate(
            earlier=Count("pk", filter=Q(advice=Advice.COME_EARLIER)),
            better=Count("pk", filter=Q(advice=Advice.MEASURE_BETTER)),
            every=Count("pk"),
            made_at=Max("made_at"),
        )

    def likeliest_first(self):
        return self.order_by(F("chance").desc(nulls_last=True), F("beyond_on").asc(nulls_last=True), "pk")

    def of_step(self, step):
        """The forecasts of what a step measures on its machine."""
        return self.filter(machine=step.inspection.machine_id, test_code=step.test_code, subject=step.subject)

    def found_by(self, text):
        """Keep the trends whose machine or result contains `text`."""
        words = Q()
        for path in ("machine__asset_number", "machine__serial", "machine__model__name", "latest__label"):
            words |= Q(**{f"{path}__icontains": text})
        return self.filter(words)

    def with_place(self):
        return self.select_related("machine__model", "machine__area__site", "latest__step__inspection")
