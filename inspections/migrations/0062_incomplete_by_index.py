from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("inspections", "0061_fault_reports_by_state")]

    operations = [
        migrations.AddIndex(
            model_name="completion",
            index=models.Index(
                condition=models.Q(("is_complete", False)), fields=["inspection"], name="completion_incomplete"
            ),
        ),
    ]
