"""In which area a machine was, day by day."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0040_first_day"),
    ]

    operations = [
        migrations.CreateModel(
            name="AreaPeriod",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("from_date", models.DateField()),
                ("until_date", models.DateField(blank=True, editable=False, null=True)),
                ("evidence", models.CharField(help_text="How it is known that the machine was there.", max_length=300)),
                ("recorded_at", models.DateTimeField()),
                (
                    "area",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="periods", to="fleet.area"
                    ),
                ),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "machine",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="area_periods",
                        to="fleet.machine",
                    ),
                ),
            ],
            options={
                "ordering": ["-from_date", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("until_date__isnull", True), ("until_date__gt", models.F("from_date")), _connector="OR"
                        ),
                        name="area_period_in_order",
                    ),
                    models.UniqueConstraint(fields=("machine", "from_date"), name="area_period_begins_once"),
                    models.UniqueConstraint(fields=("machine", "until_date"), name="area_period_ends_once"),
                    models.UniqueConstraint(
                        condition=models.Q(("until_date__isnull", True)),
                        fields=("machine",),
                        name="area_period_one_open",
                    ),
                ],
            },
        ),
    ]
