import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("fleet", "0030_site_rule_set")]

    operations = [
        migrations.CreateModel(
            name="PasskeyChallenge",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("session", models.CharField(max_length=64)),
                ("act", models.CharField(max_length=64)),
                ("challenge", models.CharField(max_length=100, unique=True)),
                ("made_at", models.DateTimeField()),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={"ordering": ["made_at", "pk"]},
        ),
        migrations.CreateModel(
            name="Passkey",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "name",
                    models.CharField(
                        help_text="The device that holds it, such as “Tablet of workshop 2”.", max_length=60
                    ),
                ),
                ("credential", models.CharField(editable=False, max_length=1400, unique=True)),
                ("public_key", models.TextField(editable=False)),
                ("sign_count", models.BigIntegerField(default=0, editable=False)),
                ("added_at", models.DateTimeField(editable=False)),
                ("used_at", models.DateTimeField(editable=False, null=True)),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="passkeys",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["person", "added_at", "pk"],
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("name", ""), _negated=True), name="passkey_has_a_name"),
                    models.UniqueConstraint(fields=("person", "name"), name="passkey_name_once_per_person"),
                ],
            },
        ),
    ]
