"""Photographs of steps and of findings, stored with the rows that name them."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.models import Q

PERSON = {"null": True, "on_delete": django.db.models.deletion.PROTECT, "related_name": "+"}
OF = {"null": True, "on_delete": django.db.models.deletion.CASCADE, "related_name": "photographs"}


class Migration(migrations.Migration):
    dependencies = [("inspections", "0023_replacement")]

    operations = [
        migrations.CreateModel(
            name="Photograph",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("content", models.BinaryField(null=True)),
                ("preview", models.BinaryField(null=True)),
                ("digest", models.CharField(help_text="SHA-256 of the content, in hexadecimal.", max_length=64)),
                ("preview_digest", models.CharField(max_length=64)),
                ("width", models.PositiveSmallIntegerField()),
                ("height", models.PositiveSmallIntegerField()),
                ("octets", models.PositiveIntegerField(help_text="Bytes of the content.")),
                ("caption", models.CharField(blank=True, max_length=200)),
                ("at", models.DateTimeField()),
                ("removed_at", models.DateTimeField(null=True)),
                (
                    "by",
                    models.ForeignKey(
                        help_text="Empty for a report without a login.", to=settings.AUTH_USER_MODEL, **PERSON
                    ),
                ),
                ("finding", models.ForeignKey(to="inspections.finding", **OF)),
                ("removed_by", models.ForeignKey(to=settings.AUTH_USER_MODEL, **PERSON)),
                ("step", models.ForeignKey(to="inspections.inspectionstep", **OF)),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=Q(step=None, finding__isnull=False) | Q(step__isnull=False, finding=None),
                        name="photograph_of_one_thing",
                    ),
                    models.CheckConstraint(
                        condition=Q(removed_at=None, content__isnull=False, preview__isnull=False)
                        | Q(removed_at__isnull=False, content=None, preview=None),
                        name="photograph_until_removed",
                    ),
                    models.UniqueConstraint(
                        condition=Q(removed_at=None), fields=("step", "digest"), name="photograph_once_per_step"
                    ),
                    models.UniqueConstraint(
                        condition=Q(removed_at=None), fields=("finding", "digest"), name="photograph_once_per_finding"
                    ),
                ],
            },
        ),
    ]
