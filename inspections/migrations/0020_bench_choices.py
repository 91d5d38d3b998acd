"""What a person chose for work at the bench: units, and the instruments of a day."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0030_site_rule_set"),
        ("inspections", "0019_inspection_units"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="BenchUnits",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("units", models.JSONField(default=dict)),
                (
                    "person",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="bench_units",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={"verbose_name_plural": "units at the bench"},
        ),
        migrations.CreateModel(
            name="InstrumentOfDay",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("day", models.DateField()),
                (
                    "instrument",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="+", to="fleet.instrument"
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="instruments_of_day",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name="+", to="fleet.site"),
                ),
            ],
            options={
                "verbose_name_plural": "instruments of a day",
                "ordering": ["person", "site", "day", "instrument"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=["person", "site", "day", "instrument"], name="instrument_of_day_once"
                    )
                ],
            },
        ),
    ]
