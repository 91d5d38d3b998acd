import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0030_site_rule_set"),
        ("inspections", "0016_one_name_for_one_thing"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="LimitConfirmation",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("test_code", models.SlugField(db_index=False, max_length=40)),
                ("result_key", models.SlugField(db_index=False, max_length=60, verbose_name="result")),
                ("rule", models.SlugField(db_index=False, max_length=60)),
                ("rule_edition", models.CharField(blank=True, max_length=120)),
                ("lower_si", models.CharField(blank=True, max_length=20)),
                ("upper_si", models.CharField(blank=True, max_length=20)),
                (
                    "edition",
                    models.CharField(
                        help_text="The publication, edition and page in which it was looked up.", max_length=120
                    ),
                ),
                ("reason", models.CharField(max_length=300)),
                ("at", models.DateTimeField()),
                ("withdrawn_at", models.DateTimeField(null=True)),
                ("withdrawn_reason", models.CharField(blank=True, max_length=300)),
            ],
            options={
                "ordering": ["test_code", "result_key", "pk"],
            },
        ),
        migrations.AddField(
            model_name="finding",
            name="step",
            field=models.ForeignKey(
                blank=True,
                help_text="The essential step that proved nothing, for a finding from an incomplete inspection.",
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="inspections.inspectionstep",
            ),
        ),
        migrations.AddField(
            model_name="result",
            name="limit_confirmed",
            field=models.BooleanField(
                help_text="Whether somebody had confirmed the limit for the site; empty without a limit, and in older records.",
                null=True,
            ),
        ),
        migrations.AlterField(
            model_name="finding",
            name="origin",
            field=models.CharField(
                choices=[
                    ("failed outcome", "Failed result"),
                    ("fault report", "Fault report"),
                    ("circuit", "Circuit contradicts record"),
                    ("not tested", "Essential step not tested"),
                ],
                max_length=20,
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
                ],
                max_length=12,
            ),
        ),
        migrations.AddConstraint(
            model_name="finding",
            constraint=models.UniqueConstraint(fields=("step",), name="finding_once_per_untested_step"),
        ),
        migrations.AddConstraint(
            model_name="finding",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("origin", "not tested"), _negated=True), ("step__isnull", False), _connector="OR"
                ),
                name="finding_not_tested_has_step",
            ),
        ),
        migrations.AddField(
            model_name="limitconfirmation",
            name="by",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="limitconfirmation",
            name="site",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="limit_confirmations", to="fleet.site"
            ),
        ),
        migrations.AddField(
            model_name="limitconfirmation",
            name="withdrawn_by",
            field=models.ForeignKey(
                null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="proposal",
            name="confirmation",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="proposals",
                to="inspections.limitconfirmation",
            ),
        ),
        migrations.AddConstraint(
            model_name="limitconfirmation",
            constraint=models.UniqueConstraint(
                condition=models.Q(("withdrawn_at", None)),
                fields=("site", "test_code", "result_key", "rule", "rule_edition", "lower_si", "upper_si"),
                name="limit_confirmed_once",
            ),
        ),
        migrations.AddConstraint(
            model_name="limitconfirmation",
            constraint=models.CheckConstraint(
                condition=models.Q(models.Q(("edition", ""), _negated=True), models.Q(("reason", ""), _negated=True)),
                name="limit_confirmed_by_an_edition",
            ),
        ),
        migrations.AddConstraint(
            model_name="limitconfirmation",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("withdrawn_at", None), ("withdrawn_by", None)),
                    models.Q(
                        ("withdrawn_at__isnull", False),
                        ("withdrawn_by__isnull", False),
                        models.Q(("withdrawn_reason", ""), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="limit_confirmation_withdrawn_by_someone",
            ),
        ),
    ]
