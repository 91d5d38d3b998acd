from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0029_one_name_for_one_thing"),
    ]

    operations = [
        migrations.AddField(
            model_name="site",
            name="rule_set",
            field=models.CharField(
                blank=True,
                choices=[
                    ("international", "International"),
                    ("european", "European"),
                    ("us", "United States"),
                    ("own", "Own: only limits set for the site, for a model, or by a procedure itself"),
                ],
                default="",
                help_text="The published rules by which results are judged here. No rule outside the set is applied. "
                "Until one is chosen, the strictest of all sets counts.",
                max_length=20,
                verbose_name="set of rules",
            ),
        ),
    ]
