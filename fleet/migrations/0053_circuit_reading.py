from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0050_current_by_gaps"),
    ]

    operations = [
        migrations.CreateModel(
            name="CircuitReading",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("sequence", models.PositiveIntegerField()),
                ("day", models.DateField()),
                ("rules", models.CharField(max_length=64)),
                ("read_at", models.DateTimeField()),
            ],
            options={"ordering": ["pk"]},
        ),
    ]
