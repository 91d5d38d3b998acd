import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("inspections", "0031_trends"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="DraftWriter",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("since", models.DateTimeField()),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="ProcedureDraft",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("code", models.SlugField(max_length=40)),
                ("content", models.JSONField()),
                ("made_at", models.DateTimeField()),
                ("changed_at", models.DateTimeField()),
                (
                    "state",
                    models.CharField(
                        choices=[("writing", "Being written"), ("approved", "Approved"), ("discarded", "Discarded")],
                        default="writing",
                        max_length=10,
                    ),
                ),
            ],
            options={
                "verbose_name": "draft of a procedure",
                "verbose_name_plural": "drafts of procedures",
                "ordering": ["-changed_at", "-pk"],
            },
        ),
        migrations.AddField(
            model_name="procedureversion",
            name="approved_by",
            field=models.ForeignKey(
                null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="procedureversion",
            name="from_date",
            field=models.DateField(null=True),
        ),
        migrations.AddField(
            model_name="procedureversion",
            name="proposed_by",
            field=models.ForeignKey(
                null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AlterField(
            model_name="proposal",
            name="act",
            field=models.CharField(
                choices=[
                    ("release", "Release of a machine"),
                    ("amendment", "Amendment of a record"),
                    ("closing", "Closing of an essential finding"),
                    ("limit", "New limit"),
                    ("limit end", "End of a limit"),
                    ("confirm", "Confirmation of a limit"),
                    ("unconfirm", "Withdrawal of a confirmation"),
                    ("procedure", "New version of a procedure"),
                ],
                max_length=12,
            ),
        ),
        migrations.AddConstraint(
            model_name="procedureversion",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("approved_by", None), ("proposed_by", None)),
                    models.Q(
                        ("approved_by__isnull", False),
                        ("proposed_by__isnull", False),
                        models.Q(("approved_by", models.F("proposed_by")), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="procedure_version_by_two",
            ),
        ),
        migrations.AddField(
            model_name="draftwriter",
            name="person",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="proceduredraft",
            name="based_on",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="inspections.procedureversion",
            ),
        ),
        migrations.AddField(
            model_name="proceduredraft",
            name="changed_by",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="proceduredraft",
            name="made_by",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="proceduredraft",
            name="procedure",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="drafts",
                to="inspections.procedure",
            ),
        ),
        migrations.AddField(
            model_name="proceduredraft",
            name="version",
            field=models.OneToOneField(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="draft",
                to="inspections.procedureversion",
            ),
        ),
        migrations.AddField(
            model_name="draftwriter",
            name="draft",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE, related_name="writers", to="inspections.proceduredraft"
            ),
        ),
        migrations.AddField(
            model_name="proposal",
            name="draft",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="proposals",
                to="inspections.proceduredraft",
            ),
        ),
        migrations.AddConstraint(
            model_name="proceduredraft",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("state", "approved"), ("version__isnull", False)),
                    models.Q(models.Q(("state", "approved"), _negated=True), ("version", None)),
                    _connector="OR",
                ),
                name="procedure_draft_became_version",
            ),
        ),
    ]
