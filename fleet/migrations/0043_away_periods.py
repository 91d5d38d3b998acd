"""Machines that are away: loans and outside repairs."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0042_fill_area_periods"),
    ]

    operations = [
        migrations.CreateModel(
            name="AwayPeriod",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "kind",
                    models.CharField(
                        choices=[("lent", "Lent"), ("outside repair", "Outside repair")],
                        max_length=20,
                        verbose_name="what for",
                    ),
                ),
                (
                    "to_whom",
                    models.CharField(
                        help_text="The department, hospital or workshop, and a name.",
                        max_length=120,
                        verbose_name="to whom",
                    ),
                ),
                ("from_date", models.DateField(verbose_name="away from")),
                ("expected_on", models.DateField(verbose_name="expected back on")),
                ("reason", models.CharField(max_length=300)),
                (
                    "note",
                    models.CharField(
                        blank=True, help_text="Such as what went with it, or an order number.", max_length=300
                    ),
                ),
                ("at", models.DateTimeField()),
                ("returned_on", models.DateField(blank=True, null=True, verbose_name="came back on")),
                ("return_note", models.CharField(blank=True, max_length=300, verbose_name="condition on return")),
                ("returned_at", models.DateTimeField(null=True)),
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
                        on_delete=django.db.models.deletion.CASCADE, related_name="away_periods", to="fleet.machine"
                    ),
                ),
                (
                    "returned_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["-from_date", "-pk"],
                "indexes": [
                    models.Index(
                        condition=models.Q(("returned_on__isnull", True)),
                        fields=["expected_on"],
                        name="away_by_expected",
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("kind__in", ["lent", "outside repair"])), name="away_kind_known"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("reason", ""), _negated=True), models.Q(("to_whom", ""), _negated=True)
                        ),
                        name="away_says_whom_and_why",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("expected_on__gte", models.F("from_date"))),
                        name="away_expected_after_start",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("returned_at__isnull", True), ("returned_on__isnull", True)),
                            models.Q(("returned_at__isnull", False), ("returned_on__gte", models.F("from_date"))),
                            _connector="OR",
                        ),
                        name="away_returned_in_order",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("returned_on__isnull", True)),
                        fields=("machine",),
                        name="away_once_at_a_time",
                    ),
                ],
            },
        ),
    ]
