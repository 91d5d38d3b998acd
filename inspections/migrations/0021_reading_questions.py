"""What was asked about a reading, and how it was answered."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("inspections", "0020_bench_choices"), migrations.swappable_dependency(settings.AUTH_USER_MODEL)]

    operations = [
        migrations.CreateModel(
            name="ReadingQuestion",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("slip", "another unit, a shifted point or swapped digits"),
                            ("pair", "two readings that cannot both be right"),
                        ],
                        max_length=8,
                    ),
                ),
                ("asked", models.CharField(max_length=400)),
                ("alternatives", models.JSONField(default=list)),
                ("asked_at", models.DateTimeField()),
                (
                    "answer",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("", "not answered"),
                            ("right", "right as it is"),
                            ("changed", "another reading was entered"),
                        ],
                        max_length=8,
                    ),
                ),
                ("at", models.DateTimeField(null=True)),
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
                    "changed_to",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.RESTRICT,
                        related_name="+",
                        to="inspections.reading",
                    ),
                ),
                (
                    "reading",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="questions", to="inspections.reading"
                    ),
                ),
            ],
            options={
                "ordering": ["reading", "pk"],
                "constraints": [
                    models.UniqueConstraint(fields=("reading", "kind"), name="question_once_per_reading"),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("answer", ""), ("at", None), ("by", None)),
                            models.Q(
                                ("answer__in", ("right", "changed")), ("at__isnull", False), ("by__isnull", False)
                            ),
                            _connector="OR",
                        ),
                        name="question_answered_by_someone",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("changed_to", None), ("answer", "changed"), _connector="OR"),
                        name="question_changed_to_a_reading",
                    ),
                ],
            },
        ),
    ]
