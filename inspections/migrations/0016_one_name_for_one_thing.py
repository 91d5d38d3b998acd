from django.db import migrations, models


class Migration(migrations.Migration):
    """Fields and models get the names of the glossary. Tables and columns keep theirs; no statement changes data."""

    dependencies = [("fleet", "0029_one_name_for_one_thing"), ("inspections", "0015_no_index_on_decisions")]

    operations = [
        migrations.SeparateDatabaseAndState(
            state_operations=[
                migrations.RemoveConstraint("finding", "finding_once_per_outcome"),
                migrations.AlterModelTable("outcome", "inspections_outcome"),
            ]
        ),
        migrations.RenameModel("Outcome", "Result"),
        migrations.SeparateDatabaseAndState(
            state_operations=[
                migrations.RenameField("limitoverride", "outcome_key", "result_key"),
                migrations.AlterField(
                    "limitoverride", "result_key", models.SlugField(db_column="outcome_key", max_length=60)
                ),
                migrations.AlterModelOptions(
                    "limitoverride", {"ordering": ["test_code", "result_key", "-from_date", "-pk"]}
                ),
                migrations.AlterField(
                    "result",
                    "step",
                    models.ForeignKey(
                        on_delete=models.deletion.CASCADE, related_name="results", to="inspections.inspectionstep"
                    ),
                ),
                migrations.RenameField("finding", "outcome", "result"),
                migrations.AlterField(
                    "finding",
                    "result",
                    models.ForeignKey(
                        blank=True,
                        db_column="outcome_id",
                        null=True,
                        on_delete=models.deletion.PROTECT,
                        related_name="findings",
                        to="inspections.result",
                    ),
                ),
                migrations.AddConstraint(
                    "finding", models.UniqueConstraint(fields=("result",), name="finding_once_per_outcome")
                ),
            ]
        ),
    ]
