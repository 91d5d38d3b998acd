from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0017_closable_causes"),
    ]

    operations = [
        migrations.AddField(
            model_name="site",
            name="signer_may_release",
            field=models.BooleanField(
                default=False,
                help_text="After an essential failure too. Unless ticked, somebody who did not sign the retest decides.",
                verbose_name="who signed the retest may release alone",
            ),
        ),
        migrations.AddField(
            model_name="site",
            name="two_for_amendment",
            field=models.BooleanField(
                default=False, verbose_name="second person for every amendment of a signed record"
            ),
        ),
        migrations.AddField(
            model_name="site",
            name="two_for_finding",
            field=models.BooleanField(default=False, verbose_name="second person for closing every essential finding"),
        ),
        migrations.AddField(
            model_name="site",
            name="two_for_limit",
            field=models.BooleanField(default=False, verbose_name="second person for every change of a limit"),
        ),
        migrations.AddField(
            model_name="site",
            name="two_for_release",
            field=models.BooleanField(
                default=False,
                help_text="One person proposes it, another confirms it with a password of their own.",
                verbose_name="second person for every release",
            ),
        ),
    ]
