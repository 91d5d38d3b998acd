"""The keys of the changes that devices sent, so that none is made twice."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [migrations.swappable_dependency(settings.AUTH_USER_MODEL), ("inspections", "0027_reading_typed_at")]

    operations = [
        migrations.CreateModel(
            name="DeviceAnswer",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("key", models.UUIDField(unique=True)),
                ("address", models.CharField(max_length=300)),
                ("status", models.PositiveSmallIntegerField(default=0)),
                ("headers", models.JSONField(default=dict)),
                ("at", models.DateTimeField(db_index=True)),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "verbose_name": "answer to a device",
                "verbose_name_plural": "answers to devices",
                "ordering": ["pk"],
            },
        ),
    ]
