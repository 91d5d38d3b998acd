import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0038_value_meaning"),
    ]

    operations = [
        migrations.AddField(
            model_name="registerupload",
            name="rest_of",
            field=models.ForeignKey(
                help_text="The import whose waiting rows this reads again.",
                null=True,
                on_delete=django.db.models.deletion.CASCADE,
                related_name="readings_again",
                to="fleet.registerupload",
            ),
        ),
        migrations.CreateModel(
            name="WaitingRow",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("number", models.PositiveIntegerField()),
                ("key", models.CharField(blank=True, max_length=300)),
                ("problems", models.JSONField(default=list)),
                ("since", models.DateTimeField()),
                (
                    "upload",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="waiting", to="fleet.registerupload"
                    ),
                ),
            ],
            options={
                "ordering": ["upload", "number"],
                "constraints": [models.UniqueConstraint(fields=("upload", "number"), name="waiting_row_once")],
            },
        ),
    ]
