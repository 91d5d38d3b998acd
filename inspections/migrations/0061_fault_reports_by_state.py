from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0050_current_by_gaps"),
        ("inspections", "0060_steps_with_later_set"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddIndex(
            model_name="faultreport",
            index=models.Index(fields=["state", "reported_at"], name="fault_report_by_state"),
        ),
    ]
