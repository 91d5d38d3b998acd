"""Questions about software and instructed users, as QuerySet methods that read as English."""

from django.db.models import Q

from fleet.acting.querysets import JournaledQuerySet


class DeviceBookRecordQuerySet(JournaledQuerySet):
    def in_force(self):
        return self.filter(withdrawn_at=None)

    def of_machine(self, machine):
        """Rows about a machine; of instructions also those on its model in an area in which it is or was."""
        own = Q(machine=machine)
        if hasattr(self.model, "machine_model"):
            areas = machine.area_periods.order_by().values("area")
            own |= Q(machine_model=machine.model_id) & (Q(area__in=areas) | Q(area=machine.area_id))
        return self.filter(own)
