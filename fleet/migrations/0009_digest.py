import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0008_job"),
    ]

    operations = [
        migrations.AddField(
            model_name="person",
            name="wants_digest",
            field=models.BooleanField(
                default=True,
                help_text="One plain e-mail in the morning, when there is something to do; none on other days.",
                verbose_name="mail me what to do",
            ),
        ),
        migrations.CreateModel(
            name="Digest",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("on", models.DateField()),
                ("tells_month", models.BooleanField(default=False)),
                ("begun_at", models.DateTimeField()),
                ("sent_at", models.DateTimeField(null=True)),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="digests", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ["-on", "-pk"],
                "constraints": [
                    models.UniqueConstraint(fields=("person", "on"), name="digest_once_a_day"),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("sent_at__isnull", True), ("sent_at__gte", models.F("begun_at")), _connector="OR"
                        ),
                        name="digest_sent_after_begun",
                    ),
                ],
            },
        ),
    ]
