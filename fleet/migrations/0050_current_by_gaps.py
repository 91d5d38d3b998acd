from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0049_lists_by_index"),
    ]

    operations = [
        migrations.AddIndex(
            model_name="currentstate",
            index=models.Index(fields=["gaps", "doubts", "status", "site"], name="current_by_gaps"),
        ),
    ]
