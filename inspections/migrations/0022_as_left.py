"""A step can have several sets of readings: as found, and as left after a repair or an adjustment."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("inspections", "0021_reading_questions"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name="inspectionstep",
            name="as_left_of",
            field=models.ForeignKey(
                db_index=False,
                help_text="The set of readings as found, for a set that was taken after a repair or an adjustment.",
                null=True,
                on_delete=django.db.models.deletion.CASCADE,
                related_name="as_left_sets",
                to="inspections.inspectionstep",
            ),
        ),
        migrations.AddField(
            model_name="inspectionstep",
            name="begun_at",
            field=models.DateTimeField(null=True),
        ),
        migrations.AddField(
            model_name="inspectionstep",
            name="begun_by",
            field=models.ForeignKey(
                null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="inspectionstep",
            name="is_last",
            field=models.BooleanField(
                default=True,
                help_text="Whether no further set was begun. Decisions about the inspection rest on the last set.",
            ),
        ),
        migrations.AddField(
            model_name="inspectionstep",
            name="is_own_work",
            field=models.BooleanField(
                default=False,
                help_text="Whether the work was on what the step tests, not on something else that calls for it.",
            ),
        ),
        migrations.AddField(
            model_name="inspectionstep",
            name="set_number",
            field=models.PositiveSmallIntegerField(default=1),
        ),
        migrations.AddField(
            model_name="inspectionstep",
            name="work_done",
            field=models.CharField(blank=True, help_text="What was done before this set was taken.", max_length=300),
        ),
        migrations.AddConstraint(
            model_name="inspectionstep",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("as_left_of", None), ("set_number", 1)),
                    models.Q(
                        ("as_left_of__isnull", False),
                        ("begun_by__isnull", False),
                        ("set_number__gt", 1),
                        models.Q(("work_done", ""), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="step_as_left_after_work",
            ),
        ),
        migrations.AddConstraint(
            model_name="inspectionstep",
            constraint=models.UniqueConstraint(fields=("as_left_of", "set_number"), name="step_set_once"),
        ),
        migrations.AddConstraint(
            model_name="inspectionstep",
            constraint=models.UniqueConstraint(
                condition=models.Q(("is_last", True)), fields=("as_left_of",), name="step_one_last_set"
            ),
        ),
    ]
