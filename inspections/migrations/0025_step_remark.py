"""A remark at a step of an inspection."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("inspections", "0024_photographs")]

    operations = [
        migrations.CreateModel(
            name="StepRemark",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("text", models.TextField(blank=True, max_length=1000, verbose_name="remark")),
                ("at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "step",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="remark",
                        to="inspections.inspectionstep",
                    ),
                ),
            ],
            options={
                "verbose_name": "remark on step",
                "verbose_name_plural": "remarks on steps",
                "ordering": ["pk"],
            },
        ),
    ]
