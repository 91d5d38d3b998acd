from django.db import migrations, models


class Migration(migrations.Migration):
    """The rows are filled after the migrations, as they follow other rules."""

    dependencies = [
        ("inspections", "0064_kept_counts"),
    ]

    operations = [
        migrations.AddField(
            model_name="keptduedate",
            name="due_on",
            field=models.DateField(null=True),
        ),
        migrations.AddField(
            model_name="keptduedate",
            name="answered_on",
            field=models.DateField(null=True),
        ),
        migrations.AddIndex(
            model_name="keptduedate",
            index=models.Index(
                fields=[
                    "closes_on",
                    "inspection",
                    "answer",
                    "is_early",
                    "excuse",
                    "answered_on",
                    "due_on",
                    "procedure",
                    "site",
                    "area",
                    "machine",
                ],
                name="kept_due_by_day",
            ),
        ),
    ]
