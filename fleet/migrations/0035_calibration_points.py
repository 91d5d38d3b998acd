"""Points of certificates over the scales, and what an instrument's interval and corrections follow."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("fleet", "0034_site_oxygen")]

    operations = [
        migrations.AddField(
            model_name="calibration",
            name="points",
            field=models.JSONField(
                blank=True,
                default=list,
                help_text="What the certificate states over each scale: reference values, readings and uncertainties.",
            ),
        ),
        migrations.AddField(
            model_name="instrument",
            name="applies_corrections",
            field=models.BooleanField(
                default=False,
                help_text="Readings are corrected by the as-left points of the calibration that is current on their day.",
                verbose_name="correct readings by the certificate",
            ),
        ),
        migrations.AddField(
            model_name="instrument",
            name="interval_months",
            field=models.PositiveSmallIntegerField(
                blank=True,
                help_text="As somebody decided; empty if nobody did.",
                null=True,
                verbose_name="calibration interval, months",
            ),
        ),
        migrations.AddField(
            model_name="instrument",
            name="longest_interval_months",
            field=models.PositiveSmallIntegerField(
                blank=True,
                help_text="Never exceeded, whatever the results say: the manufacturer's or the site's own rule.",
                null=True,
                verbose_name="longest interval, months",
            ),
        ),
        migrations.AddConstraint(
            model_name="instrument",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("interval_months", None),
                    ("longest_interval_months", None),
                    ("interval_months__lte", models.F("longest_interval_months")),
                    _connector="OR",
                ),
                name="interval_within_the_longest",
            ),
        ),
    ]
