import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0018_second_person"),
        ("inspections", "0008_finding_of_circuit"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Proposal",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "act",
                    models.CharField(
                        choices=[
                            ("release", "Release of a machine"),
                            ("amendment", "Amendment of a record"),
                            ("closing", "Closing of an essential finding"),
                            ("limit", "New limit"),
                            ("limit end", "End of a limit"),
                        ],
                        max_length=12,
                    ),
                ),
                ("subject", models.CharField(max_length=120)),
                ("title", models.CharField(max_length=300)),
                ("asked", models.JSONField(default=dict)),
                ("reason", models.CharField(max_length=300)),
                ("why", models.CharField(help_text="Why a second person is needed.", max_length=500)),
                ("grounds", models.JSONField()),
                ("digest", models.CharField(help_text="SHA-256 of the grounds.", max_length=64)),
                ("proposed_at", models.DateTimeField()),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("waiting", "Waiting for a second person"),
                            ("confirmed", "Confirmed"),
                            ("declined", "Declined"),
                            ("taken back", "Taken back"),
                        ],
                        default="waiting",
                        max_length=12,
                    ),
                ),
                ("settled_at", models.DateTimeField(null=True)),
                ("settled_reason", models.CharField(blank=True, max_length=300)),
            ],
            options={
                "ordering": ["-proposed_at", "-pk"],
            },
        ),
        migrations.AddField(
            model_name="limitoverride",
            name="ended_reason",
            field=models.CharField(blank=True, editable=False, max_length=300),
        ),
        migrations.AddField(
            model_name="limitoverride",
            name="without_source",
            field=models.BooleanField(default=False, editable=False),
        ),
        migrations.AddField(
            model_name="proposal",
            name="finding",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="proposals",
                to="inspections.finding",
            ),
        ),
        migrations.AddField(
            model_name="proposal",
            name="inspection",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="proposals",
                to="inspections.inspection",
            ),
        ),
        migrations.AddField(
            model_name="proposal",
            name="limit",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="proposals",
                to="inspections.limitoverride",
            ),
        ),
        migrations.AddField(
            model_name="proposal",
            name="machine",
            field=models.ForeignKey(
                null=True, on_delete=django.db.models.deletion.PROTECT, related_name="proposals", to="fleet.machine"
            ),
        ),
        migrations.AddField(
            model_name="proposal",
            name="proposed_by",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="proposal",
            name="settled_by",
            field=models.ForeignKey(
                null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="proposal",
            name="site",
            field=models.ForeignKey(
                null=True, on_delete=django.db.models.deletion.PROTECT, related_name="proposals", to="fleet.site"
            ),
        ),
        migrations.AddIndex(
            model_name="proposal",
            index=models.Index(fields=["state", "act"], name="proposal_by_state"),
        ),
        migrations.AddConstraint(
            model_name="proposal",
            constraint=models.UniqueConstraint(
                condition=models.Q(("state", "waiting")), fields=("subject",), name="proposal_one_waits"
            ),
        ),
        migrations.AddConstraint(
            model_name="proposal",
            constraint=models.CheckConstraint(
                condition=models.Q(("reason", ""), _negated=True), name="proposal_has_reason"
            ),
        ),
        migrations.AddConstraint(
            model_name="proposal",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("state", "confirmed"), _negated=True),
                    models.Q(
                        ("settled_by__isnull", False), models.Q(("settled_by", models.F("proposed_by")), _negated=True)
                    ),
                    _connector="OR",
                ),
                name="proposal_confirmed_by_another",
            ),
        ),
        migrations.AddConstraint(
            model_name="proposal",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("settled_at__isnull", True), ("state", "waiting")),
                    models.Q(models.Q(("state", "waiting"), _negated=True), ("settled_at__isnull", False)),
                    _connector="OR",
                ),
                name="proposal_settled_once",
            ),
        ),
    ]
