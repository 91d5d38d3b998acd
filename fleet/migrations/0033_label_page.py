from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("fleet", "0032_two_after_repair")]

    operations = [
        migrations.AddField(
            model_name="site",
            name="check_list",
            field=models.CharField(
                blank=True,
                help_text="The title that a recorded check names. Empty: the manufacturer's daily check list.",
                max_length=120,
                verbose_name="check list of the daily check",
            ),
        ),
        migrations.AddField(
            model_name="site",
            name="fault_phone",
            field=models.CharField(
                blank=True,
                help_text="Shown on the public page and on DO NOT USE tags, such as “ext. 4417, at night 4400”.",
                max_length=80,
                verbose_name="phone of the biomedical department",
            ),
        ),
        migrations.AddField(
            model_name="site",
            name="has_label_page",
            field=models.BooleanField(
                default=False,
                help_text="Whoever scans a label sees without a login whether the machine may be used, and can report a fault or record a check. Unless this is ticked, the code leads to the login.",
                verbose_name="the code on a label opens a public page",
            ),
        ),
    ]
