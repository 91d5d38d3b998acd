import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("inspections", "0032_procedure_drafts"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="ReadingFileMapping",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("instrument", models.CharField(blank=True, max_length=100)),
                ("test_code", models.SlugField(db_index=False, max_length=40)),
                ("digest", models.CharField(max_length=64)),
                ("columns", models.JSONField()),
                ("decimal", models.CharField(max_length=1)),
                ("said_at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["instrument", "test_code", "pk"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("instrument", "test_code", "digest"), name="reading_file_mapping_once"
                    )
                ],
            },
        ),
    ]
