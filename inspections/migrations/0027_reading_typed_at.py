"""A reading that waited on a device says when it was typed there."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("inspections", "0026_minutes_of_work")]

    operations = [
        migrations.AddField(
            model_name="reading",
            name="typed_at",
            field=models.DateTimeField(
                help_text="When it was typed on a device without a network, by the clock of the device; else empty.",
                null=True,
            ),
        ),
    ]
