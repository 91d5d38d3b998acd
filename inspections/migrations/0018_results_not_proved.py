"""A result may be left undecided, and opens a finding then."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("inspections", "0017_incomplete_and_confirmed"),
    ]

    operations = [
        migrations.AlterField(
            model_name="finding",
            name="origin",
            field=models.CharField(
                choices=[
                    ("failed outcome", "Failed result"),
                    ("not proved", "Result not proved"),
                    ("fault report", "Fault report"),
                    ("circuit", "Circuit contradicts record"),
                    ("not tested", "Essential step not tested"),
                ],
                max_length=20,
            ),
        ),
        migrations.AlterField(
            model_name="result",
            name="decision",
            field=models.CharField(
                blank=True,
                choices=[
                    ("pass", "Pass"),
                    ("conditional pass", "Conditional pass"),
                    ("conditional fail", "Conditional fail"),
                    ("fail", "Fail"),
                    ("not decided", "Not decided"),
                    ("not tested", "Not tested"),
                ],
                help_text="Empty for a value that is reported only.",
                max_length=20,
            ),
        ),
    ]
