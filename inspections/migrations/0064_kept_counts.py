from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("inspections", "0063_work_narrowed_by_index"),
    ]

    operations = [
        migrations.CreateModel(
            name="KeptCount",
            fields=[
                ("key", models.CharField(max_length=100, primary_key=True, serialize=False)),
                ("tally", models.CharField(max_length=16)),
                ("location", models.BigIntegerField()),
                ("what", models.CharField(blank=True, max_length=20)),
                ("day", models.DateField()),
                ("last_day", models.DateField()),
                ("number", models.PositiveIntegerField()),
            ],
            options={
                "ordering": ["key"],
                "indexes": [
                    models.Index(
                        fields=["tally", "what", "day", "last_day", "location", "number"], name="kept_count_by_day"
                    )
                ],
            },
        ),
    ]
