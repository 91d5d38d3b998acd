from django.db import migrations, models


class Migration(migrations.Migration):
    """The rows are filled after the migrations."""

    dependencies = [
        ("fleet", "0053_circuit_reading"),
    ]

    operations = [
        migrations.AddField(
            model_name="currentstate",
            name="searched",
            field=models.CharField(default="", max_length=120),
            preserve_default=False,
        ),
        migrations.AddIndex(
            model_name="currentstate",
            index=models.Index(
                fields=["searched", "model", "area", "status", "site", "machine"], name="current_searched"
            ),
        ),
    ]
