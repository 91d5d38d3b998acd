from django.db import migrations


def forget_what_was_sent(apps, schema_editor):
    """Take out of earlier failed sign-ins what was typed: new passwords were among it, in the clear."""
    attempts = apps.get_model("axes", "AccessAttempt").objects.using(schema_editor.connection.alias)
    attempts.update(get_data="", post_data="")


class Migration(migrations.Migration):
    dependencies = [("fleet", "0019_token_confirmation"), ("axes", "0010_accessattemptexpiration")]

    operations = [migrations.RunPython(forget_what_was_sent, migrations.RunPython.noop, elidable=True)]
