import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("inspections", "0029_labels_and_reports")]

    operations = [
        migrations.CreateModel(
            name="FaultPhotograph",
            fields=[
                (
                    "report",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="photograph",
                        serialize=False,
                        to="inspections.faultreport",
                    ),
                ),
                ("content", models.BinaryField()),
                ("digest", models.CharField(help_text="SHA-256 of the content, in hexadecimal.", max_length=64)),
                ("width", models.PositiveSmallIntegerField()),
                ("height", models.PositiveSmallIntegerField()),
            ],
        ),
    ]
