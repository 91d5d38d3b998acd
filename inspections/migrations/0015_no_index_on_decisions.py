from django.db import migrations


class Migration(migrations.Migration):
    """No query asks for outcomes of one key over all inspections."""

    dependencies = [("inspections", "0014_not_tested_mark")]

    operations = [migrations.RemoveIndex(model_name="outcome", name="outcome_by_decision")]
