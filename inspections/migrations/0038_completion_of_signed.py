"""Store of each earlier signature what it proved."""

from zoneinfo import ZoneInfo

from django.db import migrations

from inspections.models import Inspection

AT_ONCE = 500


def store(apps, schema_editor):
    """Incomplete is what the present predicate says; it asks only columns that every earlier migration has made."""
    alias = schema_editor.connection.alias
    Completion = apps.get_model("inspections", "Completion")
    signed = apps.get_model("inspections", "Inspection").objects.using(alias).filter(signed_at__isnull=False)
    rows = signed.order_by("pk").values_list("pk", "signed_at", "machine__area__site__time_zone")
    batch = []
    for row in rows.iterator(chunk_size=AT_ONCE):
        batch.append(row)
        if len(batch) == AT_ONCE:
            _store_batch(Completion, alias, batch)
            batch = []
    _store_batch(Completion, alias, batch)


def _store_batch(Completion, alias, batch):
    keys = [pk for pk, _, _ in batch]
    incomplete = set(
        Inspection.objects.using(alias)
        .filter(pk__in=keys)
        .incomplete_by_steps()
        .order_by()
        .values_list("pk", flat=True)
    )
    Completion.objects.using(alias).bulk_create(
        Completion(
            inspection_id=pk, is_complete=pk not in incomplete, signed_on=signed_at.astimezone(ZoneInfo(zone)).date()
        )
        for pk, signed_at, zone in batch
    )


class Migration(migrations.Migration):
    dependencies = [("fleet", "0035_calibration_points"), ("inspections", "0037_completion")]

    operations = [migrations.RunPython(store, migrations.RunPython.noop)]
