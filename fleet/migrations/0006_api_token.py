import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


def people(**kwargs):
    return models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, to=settings.AUTH_USER_MODEL, **kwargs)


class Migration(migrations.Migration):
    dependencies = [
        ("auth", "0012_alter_user_first_name_max_length"),
        ("fleet", "0005_no_index_on_short_codes"),
    ]

    operations = [
        migrations.CreateModel(
            name="ApiToken",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "name",
                    models.CharField(
                        help_text="The program that uses it, such as “Stores system”.", max_length=80, unique=True
                    ),
                ),
                ("digest", models.CharField(editable=False, max_length=64, unique=True)),
                ("start", models.CharField(editable=False, max_length=16)),
                ("expires_on", models.DateField(help_text="Last day on which it is accepted.")),
                ("last_used_on", models.DateField(editable=False, null=True)),
                ("added_at", models.DateTimeField()),
                ("revoked_at", models.DateTimeField(null=True)),
                ("added_by", people(null=True, related_name="+")),
                (
                    "group",
                    models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="auth.group"),
                ),
                ("owner", people(related_name="api_tokens")),
                ("revoked_by", people(null=True, related_name="+")),
            ],
            options={
                "ordering": ["name"],
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("name", ""), _negated=True), name="api_token_has_a_name")
                ],
            },
        ),
    ]
