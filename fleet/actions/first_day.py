"""Put the guided start of Home away, and show it again."""

from django.db import transaction

from fleet.models import StartPutAway


@transaction.atomic
def put_start_away(person, *, at):
    """Put the guided start away from the person's Home. Safe to repeat."""
    StartPutAway.objects.get_or_create(person=person, defaults={"put_away_at": at})


@transaction.atomic
def show_start_again(person):
    """Show the guided start on the person's Home again. Safe to repeat."""
    StartPutAway.objects.filter(person=person).delete()
