from django.db import migrations
from django.db.models import Q

from inspections.models.limit_sources import NO_SOURCE


def keep_apart(apps, schema_editor):
    """Limits without a source or a reason are kept, and from now on judge nothing until somebody sets them anew."""
    limits = apps.get_model("inspections", "LimitOverride").objects.using(schema_editor.connection.alias)
    unnamed = Q(source__trim__lower__in=NO_SOURCE) | Q(reason__trim__lower__in=NO_SOURCE)
    limits.filter(unnamed).update(without_source=True)


class Migration(migrations.Migration):
    dependencies = [("inspections", "0009_proposal")]

    operations = [migrations.RunPython(keep_apart, migrations.RunPython.noop)]
