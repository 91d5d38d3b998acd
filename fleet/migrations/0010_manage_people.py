from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("fleet", "0009_digest")]

    operations = [
        migrations.AlterModelOptions(
            name="person",
            options={
                "ordering": ["last_name", "first_name", "username"],
                "permissions": [("manage_people", "Can look after accounts")],
                "verbose_name_plural": "people",
            },
        ),
        migrations.AlterModelManagers(name="person", managers=[]),
    ]
