"""An inspection holds the units that were chosen for it; those before it were asked for as each test declares."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("inspections", "0018_results_not_proved")]

    operations = [
        migrations.AddField(
            model_name="inspection",
            name="units",
            field=models.JSONField(
                blank=True,
                default=dict,
                help_text="Units chosen at its start, by dimension or group of units; what is not among them is asked "
                "for as each test declares it.",
            ),
        ),
    ]
