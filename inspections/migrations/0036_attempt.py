"""What happened instead of an inspection."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.models import Q

KINDS = [
    ("not located", "Could not locate"),
    ("in use", "In use"),
    ("refused", "Refused by the area"),
    ("lent", "Away: lent"),
    ("outside repair", "Away: outside repair"),
    ("deferred", "Deferred"),
]


class Migration(migrations.Migration):
    dependencies = [
        ("inspections", "0035_safety_notices"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Attempt",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("kind", models.CharField(choices=KINDS, max_length=20)),
                ("reason", models.CharField(blank=True, max_length=300)),
                (
                    "decided_by",
                    models.CharField(
                        blank=True,
                        help_text="Who deferred it or refused the machine: a name or a post.",
                        max_length=120,
                    ),
                ),
                (
                    "until",
                    models.DateField(
                        blank=True,
                        help_text="Day to which it is deferred, or on which the machine is expected back.",
                        null=True,
                    ),
                ),
                ("made_on", models.DateField(help_text="Date of the attempt at the machine's site.")),
                ("at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "inspection",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="attempts",
                        to="inspections.inspection",
                    ),
                ),
            ],
            options={
                "ordering": ["-at", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=Q(("kind__in", [kind for kind, _ in KINDS])), name="attempt_kind_known"
                    ),
                    models.CheckConstraint(
                        condition=~Q(kind="deferred") | (Q(until__isnull=False) & ~Q(reason="") & ~Q(decided_by="")),
                        name="attempt_deferral_is_whole",
                    ),
                    models.UniqueConstraint(fields=("inspection", "kind", "made_on"), name="attempt_once_a_day"),
                ],
            },
        ),
    ]
