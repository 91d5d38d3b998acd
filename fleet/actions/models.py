"""Enter and correct machine models with the safety features that they had when new."""

from django.db import transaction

from fleet.changes import record_created, recording
from fleet.models import MachineModel, ModelFeature


@transaction.atomic
def add_model(*, features, by, at, **fields):
    """Create a machine model; `features` maps feature codes to states, other features are not known."""
    model = MachineModel.objects.create(**fields)
    _set_features(model, features)
    record_created([model], by=by, at=at)
    return model


@transaction.atomic
def change_model(model, *, features, by, at, **fields):
    """Correct a machine model. What is recorded of machines in the register does not change.

    The lock lets no machine of the model be entered meanwhile, whose current state would follow the old one.
    """
    MachineModel.objects.select_for_update().get(pk=model.pk)
    with recording(model, by=by, at=at):
        for name, value in fields.items():
            setattr(model, name, value)
        model.save(update_fields=list(fields))
        model.features.all().delete()
        _set_features(model, features)
    return model


def _set_features(model, features):
    ModelFeature.objects.bulk_create(
        ModelFeature(model=model, feature=code, state=state) for code, state in features.items()
    )
