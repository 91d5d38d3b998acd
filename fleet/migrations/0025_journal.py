from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0024_scale_dimension_from_the_table"),
    ]

    operations = [
        migrations.CreateModel(
            name="JournalHead",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("sequence", models.PositiveIntegerField(default=0)),
                ("digest", models.CharField(max_length=64)),
                ("recorded_at", models.DateTimeField(null=True)),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="JournalLink",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "sequence",
                    models.PositiveIntegerField(help_text="Counts the links from 1, without a gap.", unique=True),
                ),
                ("batch", models.BigIntegerField(help_text="Names the entries of this link.", unique=True)),
                ("content", models.TextField()),
                (
                    "previous",
                    models.CharField(
                        help_text="Digest of the link before this one, zeros for the first.", max_length=64
                    ),
                ),
                ("digest", models.CharField(help_text="SHA-256 of the content.", max_length=64)),
                ("recorded_at", models.DateTimeField(help_text="By the clock of the server.")),
            ],
            options={
                "ordering": ["sequence"],
            },
        ),
        migrations.CreateModel(
            name="JournalEntry",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("batch", models.BigIntegerField()),
                ("position", models.PositiveIntegerField()),
                ("table", models.CharField(max_length=60)),
                ("row", models.BigIntegerField()),
                ("layout", models.CharField(max_length=12)),
                ("state", models.TextField(blank=True)),
            ],
            options={
                "verbose_name_plural": "journal entries",
                "ordering": ["pk"],
                "indexes": [models.Index(fields=["table", "row", "id"], name="journal_by_row")],
                "constraints": [models.UniqueConstraint(fields=("batch", "position"), name="journal_entry_once")],
            },
        ),
    ]
