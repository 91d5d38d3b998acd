import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0001_first"),
        ("inspections", "0004_booked_by"),
    ]

    operations = [
        migrations.CreateModel(
            name="ChainEntry",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "sequence",
                    models.PositiveIntegerField(help_text="Counts the entries of the site from 1, without a gap."),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("signed", "Signature"),
                            ("countersigned", "Countersignature"),
                            ("amended", "Amendment"),
                        ],
                        max_length=14,
                    ),
                ),
                ("content", models.TextField()),
                (
                    "previous",
                    models.CharField(
                        help_text="Digest of the entry before this one, zeros for the first.", max_length=64
                    ),
                ),
                ("digest", models.CharField(help_text="SHA-256 of the content.", max_length=64, unique=True)),
                ("at", models.DateTimeField()),
                (
                    "amendment",
                    models.OneToOneField(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="chain_entry",
                        to="inspections.amendment",
                    ),
                ),
                (
                    "inspection",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="chain_entries",
                        to="inspections.inspection",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="chain_entries", to="fleet.site"
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "chain entries",
                "ordering": ["site", "sequence"],
            },
        ),
        migrations.CreateModel(
            name="ChainHead",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("sequence", models.PositiveIntegerField(default=0)),
                ("digest", models.CharField(max_length=64)),
                ("at", models.DateTimeField(null=True)),
                (
                    "site",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="chain_head", to="fleet.site"
                    ),
                ),
            ],
            options={"ordering": ["site"]},
        ),
        migrations.AddConstraint(
            model_name="chainentry",
            constraint=models.UniqueConstraint(fields=("site", "sequence"), name="chain_entry_once"),
        ),
        migrations.AddConstraint(
            model_name="chainentry",
            constraint=models.UniqueConstraint(
                condition=models.Q(("kind", "amended"), _negated=True),
                fields=("inspection", "kind"),
                name="chain_entry_once_per_signature",
            ),
        ),
    ]
