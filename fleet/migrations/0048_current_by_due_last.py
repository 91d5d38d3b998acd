from django.db import migrations

# How each database orders what has no date: SQLite before every date, PostgreSQL after. So the model cannot declare it.
LATEST_FIRST = {"sqlite": "DESC", "postgresql": "DESC NULLS LAST"}


def add(apps, schema_editor):
    """Let the machines with the latest due date first, and those without one last, be read from an index."""
    order = LATEST_FIRST.get(schema_editor.connection.vendor)
    if order:
        schema_editor.execute(
            'CREATE INDEX "current_by_due_last" ON "fleet_currentstate" '
            f'("next_due_on" {order}, "asset_number", "status", "site_id")'
        )


def remove(apps, schema_editor):
    schema_editor.execute('DROP INDEX IF EXISTS "current_by_due_last"')


class Migration(migrations.Migration):
    dependencies = [("fleet", "0047_current_states")]

    operations = [migrations.RunPython(add, remove)]
