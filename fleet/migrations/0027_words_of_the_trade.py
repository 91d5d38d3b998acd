import django.core.validators
from django.db import migrations, models

import fleet.models.features


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0026_no_index_on_open_hazards"),
    ]

    operations = [
        migrations.AlterModelOptions(
            name="circuitcover",
            options={
                "ordering": ["title", "pk"],
                "permissions": [("compute_circuitcover", "Can compute the cover of gas circuits")],
            },
        ),
        migrations.AlterModelOptions(
            name="dutychange",
            options={"ordering": ["-recorded_at", "-pk"], "verbose_name": "status change"},
        ),
        migrations.AlterModelOptions(
            name="link",
            options={"ordering": ["pk"], "verbose_name": "connection"},
        ),
        migrations.AlterModelOptions(
            name="machine",
            options={
                "base_manager_name": "with_staged",
                "ordering": ["asset_number"],
                "permissions": [
                    ("withdraw_machine", "Can withdraw a machine from use"),
                    ("release_machine", "Can return a machine to service"),
                    ("retire_machine", "Can retire a machine"),
                    ("import_register", "Can import a register"),
                    ("export_register", "Can export lists and reports"),
                ],
            },
        ),
        migrations.AlterModelOptions(
            name="person",
            options={
                "ordering": ["last_name", "first_name", "username"],
                "permissions": [("manage_people", "Can manage accounts")],
                "verbose_name_plural": "people",
            },
        ),
        migrations.AlterField(
            model_name="apitoken",
            name="confirmed_at",
            field=models.DateTimeField(
                editable=False, help_text="When the owner confirmed it; until then it is not accepted.", null=True
            ),
        ),
        migrations.AlterField(
            model_name="apitoken",
            name="expires_on",
            field=models.DateField(help_text="The last day on which it is accepted."),
        ),
        migrations.AlterField(
            model_name="apitoken",
            name="predates_confirmation",
            field=models.BooleanField(
                default=False,
                editable=False,
                help_text="Issued before owners had to confirm tokens. It is accepted until its owner revokes it.",
            ),
        ),
        migrations.AlterField(
            model_name="apitoken",
            name="start",
            field=models.CharField(blank=True, editable=False, max_length=16, verbose_name="first characters"),
        ),
        migrations.AlterField(
            model_name="area",
            name="minimum_machines",
            field=models.PositiveSmallIntegerField(
                default=0, help_text="The minimum number of machines in service in this area."
            ),
        ),
        migrations.AlterField(
            model_name="circuitchange",
            name="verb",
            field=models.CharField(
                choices=[
                    ("copied", "Copied from its model"),
                    ("fitted", "Fitted"),
                    ("inserted", "Inserted"),
                    ("replaced", "Replaced"),
                    ("removed", "Removed"),
                    ("joined", "Connected"),
                    ("parted", "Disconnected"),
                ],
                max_length=12,
            ),
        ),
        migrations.AlterField(
            model_name="circuitcover",
            name="parts",
            field=models.PositiveSmallIntegerField(verbose_name="components"),
        ),
        migrations.AlterField(
            model_name="circuitcover",
            name="seconds",
            field=models.FloatField(help_text="Duration of the computation, s."),
        ),
        migrations.AlterField(
            model_name="component",
            name="code",
            field=models.SlugField(
                blank=True,
                db_index=False,
                help_text="Identifies the component in the gas circuit; made from its label.",
                max_length=60,
            ),
        ),
        migrations.AlterField(
            model_name="component",
            name="label",
            field=models.CharField(
                help_text="The name of the component on this machine, such as “N2O regulator”.", max_length=80
            ),
        ),
        migrations.AlterField(
            model_name="component",
            name="maker_part",
            field=models.CharField(blank=True, max_length=60, verbose_name="manufacturer's part number"),
        ),
        migrations.AlterField(
            model_name="coverhazard",
            name="told",
            field=models.PositiveSmallIntegerField(verbose_name="alarmed"),
        ),
        migrations.AlterField(
            model_name="coverhazard",
            name="worst",
            field=models.CharField(blank=True, help_text="The most likely open cause, in words.", max_length=300),
        ),
        migrations.AlterField(
            model_name="dutychange",
            name="duty",
            field=models.CharField(
                choices=[("in service", "In service"), ("withdrawn", "Withdrawn from use"), ("retired", "Retired")],
                max_length=12,
                verbose_name="status",
            ),
        ),
        migrations.AlterField(
            model_name="earlierinspection",
            name="procedure",
            field=models.CharField(help_text="What was done, as worded in the old record.", max_length=120),
        ),
        migrations.AlterField(
            model_name="earlierinspection",
            name="source",
            field=models.CharField(help_text="The file from which it was imported.", max_length=120),
        ),
        migrations.AlterField(
            model_name="featurestate",
            name="feature",
            field=models.SlugField(
                choices=fleet.models.features.feature_choices,
                db_index=False,
                max_length=40,
                verbose_name="safety feature",
            ),
        ),
        migrations.AlterField(
            model_name="instrumentscale",
            name="absolute",
            field=models.FloatField(default=0, verbose_name="accuracy, fixed term"),
        ),
        migrations.AlterField(
            model_name="instrumentscale",
            name="of_reading_percent",
            field=models.FloatField(default=0, verbose_name="accuracy, % of reading"),
        ),
        migrations.AlterField(
            model_name="instrumentscale",
            name="of_span_percent",
            field=models.FloatField(default=0, verbose_name="accuracy, % of span"),
        ),
        migrations.AlterField(
            model_name="job",
            name="due_on",
            field=models.DateField(help_text="The date of a job that starts automatically.", null=True),
        ),
        migrations.AlterField(
            model_name="job",
            name="error",
            field=models.TextField(blank=True, help_text="The fault, in plain words."),
        ),
        migrations.AlterField(
            model_name="job",
            name="file_name",
            field=models.CharField(blank=True, help_text="The name of the file for download.", max_length=120),
        ),
        migrations.AlterField(
            model_name="job",
            name="heartbeat_at",
            field=models.DateTimeField(
                help_text="The last heartbeat of the process that runs it, or the time when it was queued again.",
                null=True,
            ),
        ),
        migrations.AlterField(
            model_name="job",
            name="link",
            field=models.CharField(blank=True, help_text="The address of the result.", max_length=300),
        ),
        migrations.AlterField(
            model_name="job",
            name="outcome",
            field=models.CharField(
                blank=True, help_text="The result, in words.", max_length=500, verbose_name="result"
            ),
        ),
        migrations.AlterField(
            model_name="job",
            name="total",
            field=models.PositiveIntegerField(default=0, help_text="0 while the total is not known."),
        ),
        migrations.AlterField(
            model_name="job",
            name="words",
            field=models.CharField(blank=True, help_text="The present step.", max_length=200),
        ),
        migrations.AlterField(
            model_name="journallink",
            name="batch",
            field=models.BigIntegerField(help_text="Identifies the entries of this link.", unique=True),
        ),
        migrations.AlterField(
            model_name="journallink",
            name="previous",
            field=models.CharField(help_text="Digest of the previous link; zeros for the first.", max_length=64),
        ),
        migrations.AlterField(
            model_name="journallink",
            name="recorded_at",
            field=models.DateTimeField(help_text="Time of the server's clock."),
        ),
        migrations.AlterField(
            model_name="journallink",
            name="sequence",
            field=models.PositiveIntegerField(help_text="Consecutive number of the link, from 1.", unique=True),
        ),
        migrations.AlterField(
            model_name="link",
            name="size",
            field=models.CharField(
                blank=True,
                help_text="The connector at the end of a hose, such as “22 mm”.",
                max_length=40,
                verbose_name="connector",
            ),
        ),
        migrations.AlterField(
            model_name="machine",
            name="built_year",
            field=models.PositiveSmallIntegerField(
                blank=True,
                help_text="Selects the edition of each limit. Leave empty if not known.",
                null=True,
                validators=[
                    django.core.validators.MinValueValidator(1900),
                    django.core.validators.MaxValueValidator(2100),
                ],
            ),
        ),
        migrations.AlterField(
            model_name="machine",
            name="duty",
            field=models.CharField(
                choices=[("in service", "In service"), ("withdrawn", "Withdrawn from use"), ("retired", "Retired")],
                default="in service",
                editable=False,
                max_length=12,
                verbose_name="status",
            ),
        ),
        migrations.AlterField(
            model_name="machine",
            name="in_use_from",
            field=models.DateField(help_text="First day of use. The register has no data from before this date."),
        ),
        migrations.AlterField(
            model_name="machine",
            name="staged",
            field=models.CharField(
                blank=True,
                editable=False,
                help_text="The import that is adding it, until that import is complete.",
                max_length=60,
            ),
        ),
        migrations.AlterField(
            model_name="machinecover",
            name="basis",
            field=models.CharField(help_text="The records on which the circuit is based, in words.", max_length=200),
        ),
        migrations.AlterField(
            model_name="machinecover",
            name="measured",
            field=models.JSONField(default=list, help_text="Measured values used instead of rated ones, in words."),
        ),
        migrations.AlterField(
            model_name="machinecover",
            name="on",
            field=models.DateField(help_text="The date for which the circuit was computed."),
        ),
        migrations.AlterField(
            model_name="machinecover",
            name="reason",
            field=models.TextField(blank=True, help_text="The reason why there is no table."),
        ),
        migrations.AlterField(
            model_name="machinemodel",
            name="circuit",
            field=models.TextField(
                blank=True,
                help_text="The gas circuit of every machine of this model when new, as a circuit file (TOML).",
                verbose_name="gas circuit",
            ),
        ),
        migrations.AlterField(
            model_name="machinemodel",
            name="gases",
            field=models.JSONField(default=list, help_text="Codes of the gases that it can deliver, including oxygen."),
        ),
        migrations.AlterField(
            model_name="machinemodel",
            name="lacks",
            field=models.JSONField(
                blank=True,
                default=list,
                help_text="What no machine of this model has: any of pipeline, yokes, ventilator, scavenging, mains-power.",
            ),
        ),
        migrations.AlterField(
            model_name="machinemodel",
            name="maker",
            field=models.CharField(max_length=80, verbose_name="manufacturer"),
        ),
        migrations.AlterField(
            model_name="machinemodel",
            name="parts_until",
            field=models.DateField(
                blank=True,
                help_text="Approved spare parts and qualified service are available until this date.",
                null=True,
                verbose_name="spare parts until",
            ),
        ),
        migrations.AlterField(
            model_name="machinemodel",
            name="standard",
            field=models.CharField(
                blank=True,
                help_text="The machine standard and edition that the model was built to.",
                max_length=120,
                verbose_name="built to",
            ),
        ),
        migrations.AlterField(
            model_name="modelfeature",
            name="feature",
            field=models.SlugField(
                choices=fleet.models.features.feature_choices,
                db_index=False,
                max_length=40,
                verbose_name="safety feature",
            ),
        ),
        migrations.AlterField(
            model_name="person",
            name="closed_at",
            field=models.DateTimeField(
                editable=False,
                help_text="When the personal data were removed. The account is closed permanently.",
                null=True,
            ),
        ),
        migrations.AlterField(
            model_name="person",
            name="sessions_ended",
            field=models.PositiveIntegerField(
                default=0, editable=False, help_text="How many times all sessions of the account were ended."
            ),
        ),
        migrations.AlterField(
            model_name="person",
            name="sites",
            field=models.ManyToManyField(
                blank=True,
                help_text="Limits the person to these sites; none means all sites.",
                related_name="people",
                to="fleet.site",
            ),
        ),
        migrations.AlterField(
            model_name="person",
            name="wants_digest",
            field=models.BooleanField(
                default=True,
                help_text="One plain email in the morning of each day with something to do.",
                verbose_name="email me what to do",
            ),
        ),
        migrations.AlterField(
            model_name="site",
            name="signer_may_release",
            field=models.BooleanField(
                default=False,
                help_text="Also after an essential failure. Unless this is ticked, a person who did not sign the retest decides.",
                verbose_name="the person who signed the retest may release alone",
            ),
        ),
        migrations.AlterField(
            model_name="site",
            name="two_for_release",
            field=models.BooleanField(
                default=False,
                help_text="One person proposes it, another person confirms it with their own password.",
                verbose_name="second person for every release",
            ),
        ),
    ]
