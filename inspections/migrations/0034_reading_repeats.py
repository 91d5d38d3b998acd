from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("inspections", "0033_reading_file_mappings")]

    operations = [
        migrations.AddField(
            model_name="reading",
            name="read_again",
            field=models.CharField(
                blank=True,
                default="",
                help_text=(
                    "What the same quantity was read as again, in the same unit, spaces between; the mean of all counts."
                ),
                max_length=40,
            ),
        ),
    ]
