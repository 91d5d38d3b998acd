import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("inspections", "0013_words_of_the_trade"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="NotTestedMark",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("reason", models.CharField(max_length=300)),
                ("at", models.DateTimeField(null=True)),
                ("undone_at", models.DateTimeField(null=True)),
                (
                    "by",
                    models.ForeignKey(
                        help_text="Empty for a mark from before its author was stored.",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "step",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="not_tested_marks",
                        to="inspections.inspectionstep",
                    ),
                ),
                (
                    "undone_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "verbose_name": "step not tested",
                "verbose_name_plural": "steps not tested",
                "ordering": ["pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("reason", ""), _negated=True), name="not_tested_has_reason"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("at", None), ("by", None)),
                            models.Q(("at__isnull", False), ("by__isnull", False)),
                            _connector="OR",
                        ),
                        name="not_tested_by_someone",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("undone_at", None), ("undone_by", None)),
                            models.Q(("undone_at__isnull", False), ("undone_by__isnull", False)),
                            _connector="OR",
                        ),
                        name="not_tested_undone_by_someone",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("undone_at", None)), fields=("step",), name="not_tested_one_in_force"
                    ),
                ],
            },
        ),
    ]
