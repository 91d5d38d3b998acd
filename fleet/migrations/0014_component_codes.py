"""Give each recorded part the code that names it in a gas circuit."""

from itertools import groupby

from django.db import migrations
from django.utils.text import slugify

BATCH = 500


def fill_codes(apps, schema_editor):
    """Make codes from labels: one label has one code on a machine, two labels have two."""
    Component = apps.get_model("fleet", "Component")
    parts = Component.objects.filter(code="").order_by("machine", "pk").only("machine", "label", "code")
    changed = []
    for _, of_machine in groupby(parts.iterator(chunk_size=BATCH), lambda part: part.machine_id):
        codes = {}
        for part in of_machine:
            part.code = codes.setdefault(part.label, _free(part.label, set(codes.values())))
            changed.append(part)
        if len(changed) >= BATCH:
            Component.objects.bulk_update(changed, ["code"], batch_size=BATCH)
            changed = []
    Component.objects.bulk_update(changed, ["code"], batch_size=BATCH)


def _free(label, taken):
    stem = slugify(label).replace("_", "-")[:46].strip("-") or "part"
    return next(code for code in (stem, *(f"{stem}-{n}" for n in range(2, len(taken) + 3))) if code not in taken)


class Migration(migrations.Migration):
    dependencies = [("fleet", "0013_circuit")]

    operations = [migrations.RunPython(fill_codes, migrations.RunPython.noop)]
