"""What each signature proved, and its date at the site; the inspections of one due date are found by an index."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("inspections", "0036_attempt")]

    operations = [
        migrations.CreateModel(
            name="Completion",
            fields=[
                (
                    "inspection",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="completion",
                        serialize=False,
                        to="inspections.inspection",
                    ),
                ),
                ("is_complete", models.BooleanField()),
                ("signed_on", models.DateField()),
            ],
            options={"ordering": ["inspection"]},
        ),
        migrations.AddIndex(
            model_name="inspection",
            index=models.Index(fields=["machine", "procedure", "due_on"], name="inspection_of_due_date"),
        ),
    ]
