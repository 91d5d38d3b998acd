"""How long an inspection of a procedure usually takes, from what technicians stated at their signatures."""

from collections import defaultdict

from django.db.models import Count

from inspections.models import Inspection

MINUTES = 60  # without any signed inspection; common practice, no source


def usual_minutes(pairs):
    """Return the minutes of each (procedure key, model key): the median of the procedure, else MINUTES. One query."""
    procedures = {procedure for procedure, _ in pairs}
    signed = Inspection.objects.signed().filter(procedure__in=procedures, minutes__isnull=False)
    counts = defaultdict(list)
    rows = signed.order_by().values_list("procedure", "minutes").annotate(number=Count("pk"))
    for procedure, minutes, number in sorted(rows):
        counts[procedure].append((minutes, number))
    return {pair: _median(counts[pair[0]]) for pair in pairs}


def _median(counts):
    """Return the middle value, the lower of two, of (value, number) in order."""
    half, reached = (sum(number for _, number in counts) + 1) // 2, 0
    for value, number in counts:
        reached += number
        if reached >= half:
            return value
    return MINUTES
