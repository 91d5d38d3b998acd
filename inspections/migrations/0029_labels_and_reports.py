import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

import inspections.models.label_codes


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0033_label_page"),
        ("inspections", "0028_device_answer"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="MachineLabel",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "code",
                    models.CharField(
                        default=inspections.models.label_codes.new_code, editable=False, max_length=26, unique=True
                    ),
                ),
                ("issued_at", models.DateTimeField()),
                ("replaced_at", models.DateTimeField(blank=True, null=True)),
                ("replaced_reason", models.CharField(blank=True, max_length=300)),
                (
                    "issued_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "machine",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="labels", to="fleet.machine"
                    ),
                ),
                (
                    "replaced_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "verbose_name": "label",
                "ordering": ["-issued_at", "-pk"],
                "permissions": [("replace_machinelabel", "Can replace the code of a label")],
            },
        ),
        migrations.CreateModel(
            name="FaultReport",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("what", models.TextField(max_length=2000, verbose_name="what happened")),
                ("where", models.CharField(max_length=200, verbose_name="where the machine is")),
                ("who", models.CharField(max_length=120, verbose_name="who reports it")),
                ("key", models.CharField(editable=False, max_length=64, unique=True)),
                ("reported_at", models.DateTimeField()),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("waiting", "Waiting for triage"),
                            ("finding", "In a finding"),
                            ("dismissed", "Dismissed"),
                        ],
                        default="waiting",
                        editable=False,
                        max_length=10,
                    ),
                ),
                ("settled_at", models.DateTimeField(blank=True, null=True)),
                ("reason", models.TextField(blank=True, verbose_name="why it was dismissed")),
                (
                    "finding",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="fault_reports",
                        to="inspections.finding",
                    ),
                ),
                (
                    "machine",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="fault_reports", to="fleet.machine"
                    ),
                ),
                (
                    "settled_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "label",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="inspections.machinelabel",
                    ),
                ),
            ],
            options={
                "verbose_name": "fault report",
                "ordering": ["-reported_at", "-pk"],
                "permissions": [("triage_faultreport", "Can triage fault reports")],
            },
        ),
        migrations.CreateModel(
            name="UserCheck",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "kind",
                    models.CharField(
                        choices=[("daily", "Daily check"), ("first-user", "First-user check after service")],
                        max_length=10,
                    ),
                ),
                ("by_name", models.CharField(max_length=120, verbose_name="name")),
                ("check_list", models.CharField(max_length=120)),
                (
                    "result",
                    models.CharField(
                        choices=[("done", "Done, no problem found"), ("problem", "Problem found")], max_length=10
                    ),
                ),
                ("note", models.TextField(blank=True, max_length=2000)),
                ("key", models.CharField(editable=False, max_length=64, unique=True)),
                ("at", models.DateTimeField()),
                (
                    "label",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="inspections.machinelabel",
                    ),
                ),
                (
                    "machine",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="user_checks", to="fleet.machine"
                    ),
                ),
            ],
            options={
                "verbose_name": "user check",
                "ordering": ["-at", "-pk"],
            },
        ),
        migrations.AddConstraint(
            model_name="machinelabel",
            constraint=models.UniqueConstraint(
                condition=models.Q(("replaced_at", None)), fields=("machine",), name="label_once_in_force"
            ),
        ),
        migrations.AddConstraint(
            model_name="machinelabel",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("replaced_at__isnull", True), models.Q(("replaced_reason", ""), _negated=True), _connector="OR"
                ),
                name="label_replaced_with_reason",
            ),
        ),
        migrations.AddIndex(
            model_name="faultreport",
            index=models.Index(fields=["machine", "reported_at"], name="fault_report_by_machine"),
        ),
        migrations.AddConstraint(
            model_name="faultreport",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("finding__isnull", True), ("settled_at__isnull", True), ("state", "waiting")),
                    models.Q(("finding__isnull", False), ("settled_at__isnull", False), ("state", "finding")),
                    models.Q(
                        ("finding__isnull", True),
                        ("settled_at__isnull", False),
                        ("state", "dismissed"),
                        models.Q(("reason", ""), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="fault_report_state_is_whole",
            ),
        ),
        migrations.AddIndex(
            model_name="usercheck",
            index=models.Index(fields=["machine", "kind", "at"], name="user_check_by_machine"),
        ),
        migrations.AddConstraint(
            model_name="usercheck",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("by_name", ""), _negated=True), models.Q(("check_list", ""), _negated=True)
                ),
                name="user_check_names_person_and_list",
            ),
        ),
    ]
