from django.db import migrations


def add(apps, schema_editor):
    """Let PostgreSQL read the machines with the latest due date first from an index; SQLite reads one backwards."""
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(
            'CREATE INDEX "current_by_due_last" ON "fleet_currentstate" '
            '("next_due_on" DESC NULLS LAST, "asset_number", "status", "site_id")'
        )


def remove(apps, schema_editor):
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute('DROP INDEX "current_by_due_last"')


class Migration(migrations.Migration):
    dependencies = [("fleet", "0050_current_states")]

    operations = [migrations.RunPython(add, remove)]
