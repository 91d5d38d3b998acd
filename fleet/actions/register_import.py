"""Carry out what a register file was planned to change, all of it or nothing."""

from django.db import IntegrityError, transaction

from fleet.actions.features import record_feature_state
from fleet.actions.register import Entry, correct_machine, register_machines
from fleet.errors import RegisterRefused
from fleet.models import Evidence, RegisterUpload


@transaction.atomic
def import_register(plan, *, by, at, source):
    """Create and correct the machines of an ImportPlan. Raise RegisterRefused when it has problems or is overtaken.

    source  name of the file, which the duty history and the evidence quote
    """
    if plan.problems:
        raise RegisterRefused(
            f"Nothing was imported from {source}: it has {len(plan.problems)} problems. Mend them first."
        )
    entries = [
        Entry(new.fields, new.features, new.duty, f"Entered in the register from {source}"[:280])
        for new in plan.created
    ]
    try:
        with transaction.atomic():
            register_machines(entries, by=by, at=at)
    except IntegrityError:
        raise RegisterRefused(
            f"Nothing was imported from {source}: somebody entered one of its machines meanwhile. "
            "Look at the preview again."
        ) from None
    for update in plan.updated:
        _update(update, by=by, at=at, source=source)


@transaction.atomic
def keep_upload(*, name, content, by, at):
    """Keep an uploaded file until it is confirmed; what the same person left unconfirmed before is dropped."""
    RegisterUpload.objects.filter(by=by, imported_at=None).delete()
    return RegisterUpload.objects.create(name=name[-120:], content=content, by=by, uploaded_at=at)


@transaction.atomic
def confirm_upload(upload, plan, *, by, at):
    """Import a kept file once. Raise RegisterRefused if it was imported already."""
    if not RegisterUpload.objects.filter(pk=upload.pk, imported_at=None).update(imported_at=at):
        raise RegisterRefused(f"{upload.name} is imported already. Upload it again to compare it with the register.")
    import_register(plan, by=by, at=at, source=upload.name)


def _update(update, *, by, at, source):
    machine = update.machine
    if update.fields:
        machine = correct_machine(machine, by=by, at=at, **update.fields)
    today = machine.site.date_of(at)
    for code, state in update.features.items():
        record_feature_state(
            machine,
            code,
            state,
            from_date=today,
            evidence=Evidence.REGISTER,
            by=by,
            at=at,
            note=f"Imported from {source}"[:300],
        )
