"""Questions about machines that are away."""

from django.db.models import Q

from fleet.models.querysets.scoped import MachineRowQuerySet


class AwayPeriodQuerySet(MachineRowQuerySet):
    def found_by(self, text):
        """Return the periods of machines whose asset number contains `text`, or of loans to whoever is called so."""
        return self.filter(Q(machine__asset_number__icontains=text) | Q(to_whom__icontains=text))

    def now(self):
        """Return the periods that last: the machine is away."""
        return self.filter(returned_on__isnull=True)

    def overdue(self, today):
        """Return the periods of machines that should have been back before `today`."""
        return self.now().filter(expected_on__lt=today)

    def on(self, day):
        """Return the periods of machines that were away at the end of `day`."""
        return self.filter(Q(returned_on__isnull=True) | Q(returned_on__gt=day), from_date__lte=day)
