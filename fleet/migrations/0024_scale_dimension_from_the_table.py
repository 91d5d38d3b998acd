from django.db import migrations, models

import fleet.catalogue.dimensions


class Migration(migrations.Migration):
    """What a scale measures is chosen from the catalogue's table: a dimension added there needs no migration."""

    dependencies = [("fleet", "0023_person_closed")]

    operations = [
        migrations.AlterField(
            "instrumentscale",
            "dimension",
            models.CharField(choices=fleet.catalogue.dimensions.scale_dimensions, max_length=20),
        ),
    ]
