"""Store what was computed for a fleet."""

from django.db import transaction

from fleet.canonical import canonical_json, digest_of
from inspections.models import FleetChoice


@transaction.atomic
def store_fleet_choice(*, title, site, currency, asked, inputs, result, by, at):
    """Store a computed choice with all its inputs, and the digest of these."""
    return FleetChoice.objects.create(
        title=title,
        site=site,
        currency=currency,
        asked=asked,
        inputs=inputs,
        result=result,
        digest=digest_of(canonical_json(inputs)),
        by=by,
        at=at,
    )
