from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("fleet", "0031_passkeys")]

    operations = [
        migrations.AddField(
            model_name="site",
            name="two_after_repair",
            field=models.BooleanField(
                default=False,
                help_text="Whoever signed or entered readings of the retest, or fitted a component since the withdrawal, "
                "proposes the release; a person who did none of this confirms it.",
                verbose_name="a person who did not do the repair must decide about a release",
            ),
        ),
    ]
