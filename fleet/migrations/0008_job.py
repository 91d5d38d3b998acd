import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

import fleet.models.jobs


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0007_change_entry"),
    ]

    operations = [
        migrations.CreateModel(
            name="Job",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("kind", models.SlugField(db_index=False, max_length=40)),
                ("title", models.CharField(max_length=200)),
                ("params", models.JSONField(default=dict)),
                ("key", models.CharField(max_length=200)),
                ("due_on", models.DateField(help_text="The day of work that runs by itself.", null=True)),
                ("asked_at", models.DateTimeField()),
                (
                    "stage",
                    models.CharField(
                        choices=[
                            ("waiting", "Waiting"),
                            ("running", "Running"),
                            ("done", "Done"),
                            ("failed", "Failed"),
                            ("cancelled", "Cancelled"),
                        ],
                        default="waiting",
                        max_length=10,
                    ),
                ),
                ("attempt", models.PositiveSmallIntegerField(default=0)),
                ("started_at", models.DateTimeField(null=True)),
                (
                    "heartbeat_at",
                    models.DateTimeField(
                        help_text="The last sign of life of whoever runs it, or when it was sent again.", null=True
                    ),
                ),
                ("finished_at", models.DateTimeField(null=True)),
                ("cancel_asked_at", models.DateTimeField(null=True)),
                ("done", models.PositiveIntegerField(default=0)),
                ("total", models.PositiveIntegerField(default=0, help_text="0 while it is not known.")),
                ("words", models.CharField(blank=True, help_text="What is being done.", max_length=200)),
                ("outcome", models.CharField(blank=True, help_text="What came of it, in words.", max_length=500)),
                ("link", models.CharField(blank=True, help_text="Where the result is seen.", max_length=300)),
                (
                    "file",
                    models.FileField(blank=True, max_length=200, storage=fleet.models.jobs.job_files, upload_to=""),
                ),
                (
                    "file_name",
                    models.CharField(blank=True, help_text="The name under which the file is sent.", max_length=120),
                ),
                ("error", models.TextField(blank=True, help_text="What went wrong, in plain words.")),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="jobs",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "cancel_asked_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["-asked_at", "-pk"],
                "indexes": [
                    models.Index(fields=["stage", "asked_at"], name="job_by_stage"),
                    models.Index(fields=["by", "asked_at"], name="job_by_person"),
                ],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("stage__in", ("waiting", "running"))),
                        fields=("key",),
                        name="job_key_once_while_open",
                    ),
                    models.UniqueConstraint(fields=("kind", "due_on"), name="job_once_per_day_due"),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("finished_at__isnull", True), ("stage__in", ("waiting", "running"))),
                            models.Q(
                                models.Q(("stage__in", ("waiting", "running")), _negated=True),
                                ("finished_at__isnull", False),
                            ),
                            _connector="OR",
                        ),
                        name="job_closed_has_time",
                    ),
                ],
            },
        ),
    ]
