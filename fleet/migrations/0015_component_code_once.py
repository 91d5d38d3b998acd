from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("fleet", "0014_component_codes")]

    operations = [
        migrations.AddConstraint(
            model_name="component",
            constraint=models.UniqueConstraint(
                condition=models.Q(("removed_on__isnull", True), models.Q(("code", ""), _negated=True)),
                fields=("machine", "code"),
                name="component_code_once",
            ),
        ),
    ]
