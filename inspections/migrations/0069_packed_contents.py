"""What signatures froze is written compressed from now on; columns and rows stay as they are."""

from django.db import migrations

import inspections.models.packed_text


def altered(model):
    return migrations.AlterField(
        model_name=model, name="content", field=inspections.models.packed_text.PackedTextField()
    )


class Migration(migrations.Migration):
    dependencies = [("inspections", "0065_kept_due_dates_listed")]

    operations = [
        migrations.SeparateDatabaseAndState(state_operations=[altered("signedrecord"), altered("chainentry")])
    ]
