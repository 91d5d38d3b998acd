"""Due dates that were met because another inspection contained the procedure, for the on-time figure."""

from django.db.models import Count, F, Q


def settled_counts(inspections, first, last):
    """Count the inspections that were settled from day `first` to day `last`: `met`, and `late` of them. One query.

    A due date is met on the day of the signature that settled it, and late after the last day of its window. One that
    was settled before its window opened had not been due: it counts nowhere, as it would have been planned further on.
    """
    done_on = F("settlement__done_on")
    met = inspections.filter(settlement__done_on__range=(first, last), opens_on__lte=done_on)
    return met.aggregate(met=Count("pk"), late=Count("pk", filter=Q(closes_on__lt=done_on)))
