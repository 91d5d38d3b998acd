from django.db import migrations, models

SORTED = ("label", "lot", "part_number", "fitted_on", "removed_on")


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0054_current_searched"),
    ]

    operations = [
        migrations.AddIndex(
            model_name="component",
            index=models.Index(fields=["serial", "lot", "part_number"], name="component_numbered"),
        ),
        *(
            migrations.AddIndex(
                model_name="component",
                index=models.Index(fields=[name, "id"], name=f"component_{name}"),
            )
            for name in SORTED
        ),
    ]
