"""Why something was wrong and what brought it to light; a machine that could not be located is a finding."""

from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    dependencies = [("inspections", "0038_completion_of_signed")]

    operations = [
        migrations.AddField(
            model_name="finding",
            name="code",
            field=models.CharField(
                blank=True,
                default="",
                help_text="Why it was wrong, by the codes of findings.",
                max_length=40,
                verbose_name="code",
            ),
            preserve_default=False,
        ),
        migrations.AddField(
            model_name="finding",
            name="cause",
            field=models.CharField(blank=True, default="", max_length=300),
            preserve_default=False,
        ),
        migrations.AddField(
            model_name="finding",
            name="found_how",
            field=models.CharField(
                blank=True,
                choices=[
                    ("inspection", "Inspection"),
                    ("daily check", "Daily check"),
                    ("user report", "Report of a user"),
                    ("during use", "During use on a patient"),
                    ("recall", "Recall or safety notice"),
                    ("other", "Other"),
                ],
                default="",
                max_length=20,
                verbose_name="found by",
            ),
            preserve_default=False,
        ),
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
                    ("notice", "Safety notice"),
                    ("not located", "Could not be located"),
                ],
                max_length=20,
            ),
        ),
        migrations.AddConstraint(
            model_name="finding",
            constraint=models.CheckConstraint(
                condition=Q(code="") | ~Q(found_how=""), name="finding_coded_says_how_found"
            ),
        ),
    ]
