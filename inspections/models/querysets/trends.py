"""Questions about stored forecasts, as QuerySet methods that read as English."""

from django.db.models import F

from fleet.models.querysets.scoped import MachineRowQuerySet


class TrendForecastQuerySet(MachineRowQuerySet):
    def to_watch(self):
        """Those that call for somebody: the chance of being outside when next due passes the policy."""
        return self.exclude(advice="nothing").exclude(machine__status="retired")

    def likeliest_first(self):
        return self.order_by(F("chance").desc(nulls_last=True), F("beyond_on").asc(nulls_last=True), "pk")

    def of_step(self, step):
        """The forecasts of what a step measures on its machine."""
        return self.filter(machine=step.inspection.machine_id, test_code=step.test_code, subject=step.subject)

    def with_place(self):
        return self.select_related("machine__model", "machine__area__site", "latest__step__inspection")
