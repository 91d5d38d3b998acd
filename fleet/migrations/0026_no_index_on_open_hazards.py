from django.db import migrations


class Migration(migrations.Migration):
    """Every query reaches the hazards of a cover by the cover, none by the hazard."""

    dependencies = [("fleet", "0025_journal")]

    operations = [migrations.RemoveIndex(model_name="coverhazard", name="cover_hazard_by_open")]
