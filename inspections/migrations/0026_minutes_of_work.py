"""How long an inspection took, in minutes; empty in those from before it was asked."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    dependencies = [("inspections", "0025_step_remark")]

    operations = [
        migrations.AddField(
            model_name="inspection",
            name="minutes",
            field=models.PositiveSmallIntegerField(
                blank=True,
                null=True,
                validators=[MinValueValidator(1), MaxValueValidator(1440)],
                verbose_name="minutes of work",
            ),
        ),
        migrations.AddConstraint(
            model_name="inspection",
            constraint=models.CheckConstraint(
                condition=Q(minutes=None) | Q(minutes__gte=1, minutes__lte=1440), name="inspection_minutes_in_a_day"
            ),
        ),
    ]
