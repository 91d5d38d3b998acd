from django.db import migrations, models

import fleet.models.places

DATE_FORMATS = [
    ("D MMM YYYY", "2 Nov 2026"),
    ("DD/MM/YYYY", "02/11/2026"),
    ("DD.MM.YYYY", "02.11.2026"),
    ("MM/DD/YYYY", "11/02/2026"),
    ("MMM D, YYYY", "Nov 2, 2026"),
    ("YYYY-MM-DD", "2026-11-02"),
]


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0027_words_of_the_trade"),
    ]

    operations = [
        migrations.AddField(
            model_name="site",
            name="decimal_sign",
            field=models.CharField(
                choices=[(".", "Point, 3.1"), (",", "Comma, 3,1")],
                default=".",
                help_text="As pages and paper show numbers. Both are accepted when typing.",
                max_length=1,
            ),
        ),
        migrations.AddField(
            model_name="site",
            name="date_format",
            field=models.CharField(choices=DATE_FORMATS, default="D MMM YYYY", max_length=20),
        ),
        migrations.AddField(
            model_name="site",
            name="paper_size",
            field=models.CharField(
                choices=[("A4", "A4, 210 × 297 mm"), ("Letter", "Letter, 8.5 × 11 in")], default="A4", max_length=10
            ),
        ),
        migrations.AddField(
            model_name="site",
            name="preferred_units",
            field=models.JSONField(
                blank=True,
                default=dict,
                help_text="By dimension, the unit in which pages and paper show results.",
                validators=[fleet.models.places.validate_preferred_units],
            ),
        ),
    ]
