import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0037_site_holidays"),
    ]

    operations = [
        migrations.CreateModel(
            name="ValueMeaning",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("kind", models.SlugField(db_index=False, max_length=30)),
                ("column", models.SlugField(db_index=False, max_length=40)),
                ("written", models.CharField(max_length=200)),
                ("meaning", models.CharField(blank=True, max_length=200)),
                ("is_right", models.BooleanField(default=False)),
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
                (
                    "site",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="value_meanings",
                        to="fleet.site",
                    ),
                ),
            ],
            options={
                "ordering": ["column", "written", "pk"],
                "constraints": [
                    models.UniqueConstraint(fields=("kind", "site", "column", "written"), name="value_meaning_once"),
                    models.UniqueConstraint(
                        condition=models.Q(("site", None)),
                        fields=("kind", "column", "written"),
                        name="value_meaning_once_for_every_site",
                    ),
                ],
            },
        ),
    ]
