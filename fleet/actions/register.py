"""Bring a machine into the register."""

from django.db import transaction

from fleet.models import Duty, DutyChange, Evidence, FeatureState, Machine


@transaction.atomic
def register_machine(*, by, at, asset_number, model, area, in_use_from, **details):
    """Create a machine in service that starts with the features its model had when new."""
    machine = Machine.objects.create(
        asset_number=asset_number, model=model, area=area, in_use_from=in_use_from, **details
    )
    DutyChange.objects.create(
        machine=machine,
        duty=Duty.IN_SERVICE,
        changed_on=in_use_from,
        reason="Entered in the register",
        by=by,
        recorded_at=at,
    )
    FeatureState.objects.bulk_create(
        FeatureState(
            machine=machine,
            feature=default.feature,
            state=default.state,
            from_date=in_use_from,
            evidence=Evidence.MODEL_DEFAULT,
            by=by,
            recorded_at=at,
        )
        for default in model.features.all()
    )
    return machine
