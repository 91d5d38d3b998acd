from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("fleet", "0033_label_page")]

    operations = [
        migrations.AddField(
            model_name="site",
            name="oxygen_grade",
            field=models.CharField(
                choices=[
                    ("oxygen", "Oxygen, 99.5 % or more, from cylinders or liquid"),
                    ("oxygen-93", "Oxygen 93, 90 to 96 %, from concentrators"),
                ],
                default="oxygen",
                help_text="What the pipeline and cylinders hold. Oxygen analysers and mixtures are judged by it.",
                max_length=20,
                verbose_name="oxygen supply",
            ),
        ),
        migrations.AddField(
            model_name="site",
            name="oxygen_percent",
            field=models.FloatField(
                blank=True,
                help_text="As measured behind the plant. Empty: anywhere within the grade.",
                null=True,
                verbose_name="oxygen of the supply (% by volume)",
            ),
        ),
    ]
