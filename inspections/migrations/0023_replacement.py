"""Components that were replaced during an inspection."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0030_site_rule_set"),
        ("inspections", "0022_as_left"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Replacement",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("code", models.SlugField(db_index=False, max_length=60)),
                ("kind", models.SlugField(db_index=False, max_length=40)),
                ("label", models.CharField(max_length=80)),
                ("gas", models.SlugField(blank=True, db_index=False, max_length=20)),
                (
                    "removed_serial",
                    models.CharField(blank=True, max_length=60, verbose_name="serial of the removed one"),
                ),
                ("removed_lot", models.CharField(blank=True, max_length=60, verbose_name="lot of the removed one")),
                (
                    "removed_part_number",
                    models.CharField(blank=True, max_length=60, verbose_name="part number of the removed one"),
                ),
                ("fitted_serial", models.CharField(blank=True, max_length=60, verbose_name="serial")),
                ("fitted_lot", models.CharField(blank=True, max_length=60, verbose_name="lot")),
                ("fitted_part_number", models.CharField(blank=True, max_length=60, verbose_name="part number")),
                ("note", models.CharField(blank=True, max_length=300)),
                ("done_at", models.DateTimeField()),
                ("at", models.DateTimeField()),
                ("withdrawn_at", models.DateTimeField(null=True)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "component",
                    models.ForeignKey(
                        null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="fleet.component"
                    ),
                ),
                (
                    "fitted",
                    models.ForeignKey(
                        null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="fleet.component"
                    ),
                ),
                (
                    "step",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="replacements",
                        to="inspections.inspectionstep",
                    ),
                ),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "verbose_name": "component replaced",
                "verbose_name_plural": "components replaced",
                "ordering": ["pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("withdrawn_at", None), ("withdrawn_by", None)),
                            models.Q(
                                ("fitted", None), ("withdrawn_at__isnull", False), ("withdrawn_by__isnull", False)
                            ),
                            _connector="OR",
                        ),
                        name="replacement_withdrawn_by_someone",
                    )
                ],
            },
        ),
    ]
