from importlib import import_module

from django.db import migrations, models

by_due_last = import_module("fleet.migrations.0048_current_by_due_last")


def add_again(apps, schema_editor):
    """SQLite makes a table anew for a new column, with the indexes that the model declares; this one it cannot."""
    by_due_last.remove(apps, schema_editor)
    by_due_last.add(apps, schema_editor)


class Migration(migrations.Migration):
    """The rows are filled after the migrations."""

    dependencies = [
        ("fleet", "0053_circuit_reading"),
    ]

    operations = [
        migrations.RunPython(migrations.RunPython.noop, add_again),
        migrations.AddField(
            model_name="currentstate",
            name="searched",
            field=models.CharField(default="", max_length=120),
            preserve_default=False,
        ),
        migrations.AddIndex(
            model_name="currentstate",
            index=models.Index(
                fields=["searched", "model", "area", "status", "site", "machine"], name="current_searched"
            ),
        ),
        migrations.RunPython(add_again, migrations.RunPython.noop),
    ]
