import django.db.models.deletion
from django.db import migrations, models


def token(help_text):
    return models.ForeignKey(
        blank=True,
        db_index=False,
        help_text=help_text,
        null=True,
        on_delete=django.db.models.deletion.PROTECT,
        related_name="+",
        to="fleet.apitoken",
    )


class Migration(migrations.Migration):
    dependencies = [("fleet", "0019_token_confirmation"), ("inspections", "0011_limit_names_its_source")]

    operations = [
        migrations.AddField(
            model_name="reading",
            name="token",
            field=token(
                "The token of `entered_by` with which a program entered it; empty for what the person entered."
            ),
        ),
        migrations.AddField(
            model_name="finding",
            name="token",
            field=token(
                "The token of `opened_by` with which a program reported it; empty for what the person reported."
            ),
        ),
    ]
