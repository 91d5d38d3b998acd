from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0050_current_by_gaps"),
        ("inspections", "0059_open_findings"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddIndex(
            model_name="inspectionstep",
            index=models.Index(
                condition=models.Q(("is_last", False)), fields=["inspection"], name="step_with_later_set"
            ),
        ),
    ]
