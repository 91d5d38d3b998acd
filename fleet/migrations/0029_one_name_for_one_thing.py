from django.db import migrations, models


class Migration(migrations.Migration):
    """Fields and models get the names of the glossary. Tables and columns keep theirs; no statement changes data."""

    dependencies = [("fleet", "0028_site_place_format")]

    operations = [
        migrations.SeparateDatabaseAndState(
            state_operations=[
                migrations.RemoveConstraint("machinemodel", "machine_model_once"),
                migrations.RemoveConstraint("machine", "machine_duty_known"),
                migrations.RemoveIndex("machine", "machine_by_duty"),
                migrations.AlterModelTable("dutychange", "fleet_dutychange"),
                migrations.AlterModelTable("link", "fleet_link"),
            ]
        ),
        migrations.RenameModel("DutyChange", "StatusChange"),
        migrations.RenameModel("Link", "Connection"),
        migrations.SeparateDatabaseAndState(
            state_operations=[
                migrations.RenameField("machinemodel", "maker", "manufacturer"),
                migrations.AlterField(
                    "machinemodel", "manufacturer", models.CharField(db_column="maker", max_length=80)
                ),
                migrations.AlterModelOptions("machinemodel", {"ordering": ["manufacturer", "name"]}),
                migrations.RenameField("component", "maker_part", "part_number"),
                migrations.AlterField(
                    "component",
                    "part_number",
                    models.CharField("manufacturer's part number", blank=True, db_column="maker_part", max_length=60),
                ),
                migrations.AlterField(
                    "component",
                    "fitted_in",
                    models.ForeignKey(
                        blank=True,
                        editable=False,
                        null=True,
                        on_delete=models.deletion.SET_NULL,
                        related_name="components_fitted",
                        to="fleet.circuitchange",
                    ),
                ),
                migrations.AlterField(
                    "component",
                    "removed_in",
                    models.ForeignKey(
                        blank=True,
                        editable=False,
                        null=True,
                        on_delete=models.deletion.SET_NULL,
                        related_name="components_removed",
                        to="fleet.circuitchange",
                    ),
                ),
                migrations.AlterField(
                    "connection",
                    "fitted_in",
                    models.ForeignKey(
                        blank=True,
                        editable=False,
                        null=True,
                        on_delete=models.deletion.SET_NULL,
                        related_name="connections_made",
                        to="fleet.circuitchange",
                    ),
                ),
                migrations.AlterField(
                    "connection",
                    "removed_in",
                    models.ForeignKey(
                        blank=True,
                        editable=False,
                        null=True,
                        on_delete=models.deletion.SET_NULL,
                        related_name="connections_ended",
                        to="fleet.circuitchange",
                    ),
                ),
                migrations.AlterField(
                    "connection",
                    "machine",
                    models.ForeignKey(
                        on_delete=models.deletion.CASCADE, related_name="connections", to="fleet.machine"
                    ),
                ),
                migrations.AlterField(
                    "connection",
                    "source",
                    models.ForeignKey(
                        on_delete=models.deletion.CASCADE, related_name="connections_out", to="fleet.component"
                    ),
                ),
                migrations.AlterField(
                    "connection",
                    "target",
                    models.ForeignKey(
                        on_delete=models.deletion.CASCADE, related_name="connections_in", to="fleet.component"
                    ),
                ),
                migrations.AlterModelOptions("connection", {"ordering": ["pk"]}),
                migrations.RenameField("circuitcover", "parts", "components"),
                migrations.AlterField(
                    "circuitcover", "components", models.PositiveSmallIntegerField(db_column="parts")
                ),
                migrations.RenameField("job", "outcome", "result"),
                migrations.AlterField(
                    "job",
                    "result",
                    models.CharField(
                        blank=True, db_column="outcome", help_text="The result, in words.", max_length=500
                    ),
                ),
                migrations.RenameField("machine", "duty", "status"),
                migrations.AlterField(
                    "machine",
                    "status",
                    models.CharField(
                        choices=[
                            ("in service", "In service"),
                            ("withdrawn", "Withdrawn from use"),
                            ("retired", "Retired"),
                        ],
                        db_column="duty",
                        default="in service",
                        editable=False,
                        max_length=12,
                    ),
                ),
                migrations.RenameField("statuschange", "duty", "status"),
                migrations.AlterField(
                    "statuschange",
                    "status",
                    models.CharField(
                        choices=[
                            ("in service", "In service"),
                            ("withdrawn", "Withdrawn from use"),
                            ("retired", "Retired"),
                        ],
                        db_column="duty",
                        max_length=12,
                    ),
                ),
                migrations.AlterField(
                    "statuschange",
                    "machine",
                    models.ForeignKey(
                        on_delete=models.deletion.CASCADE, related_name="status_changes", to="fleet.machine"
                    ),
                ),
                migrations.AlterModelOptions("statuschange", {"ordering": ["-recorded_at", "-pk"]}),
                migrations.AddConstraint(
                    "machinemodel",
                    models.UniqueConstraint(fields=("manufacturer", "name"), name="machine_model_once"),
                ),
                migrations.AddConstraint(
                    "machine",
                    models.CheckConstraint(
                        condition=models.Q(("status__in", ("in service", "withdrawn", "retired", "entering"))),
                        name="machine_duty_known",
                    ),
                ),
                migrations.AddIndex("machine", models.Index(fields=["status", "asset_number"], name="machine_by_duty")),
            ]
        ),
    ]
