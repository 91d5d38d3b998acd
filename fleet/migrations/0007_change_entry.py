import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("fleet", "0006_api_token")]

    operations = [
        migrations.CreateModel(
            name="ChangeEntry",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("record", models.CharField(max_length=40)),
                ("record_pk", models.BigIntegerField()),
                ("row", models.CharField(max_length=80)),
                ("row_pk", models.BigIntegerField()),
                ("about", models.CharField(blank=True, max_length=200)),
                ("at", models.DateTimeField()),
                ("before", models.JSONField(default=dict)),
                ("after", models.JSONField(default=dict)),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "change entries",
                "ordering": ["-at", "-pk"],
                "indexes": [models.Index(fields=["record", "record_pk", "-at", "-id"], name="change_by_record")],
            },
        ),
    ]
