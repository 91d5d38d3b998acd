import django.core.validators
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

import fleet.models.components


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0035_calibration_points"),
        ("inspections", "0034_reading_repeats"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AlterField(
            model_name="finding",
            name="origin",
            field=models.CharField(
                choices=[
                    ("failed outcome", "Failed result"),
                    ("not proved", "Result not proved"),
                    ("fault report", "Fault report"),
                    ("circuit", "Circuit contradicts record"),
                    ("not tested", "Essential step not tested"),
                    ("notice", "Safety notice"),
                ],
                max_length=20,
            ),
        ),
        migrations.CreateModel(
            name="SafetyNotice",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("published_by", models.CharField(help_text="The manufacturer or authority.", max_length=120)),
                ("reference", models.CharField(max_length=80)),
                ("title", models.CharField(max_length=200)),
                ("published_on", models.DateField(verbose_name="date of the notice")),
                ("received_on", models.DateField(verbose_name="received on")),
                ("answer_by", models.DateField(blank=True, null=True, verbose_name="to be done by")),
                ("asks", models.TextField(blank=True, verbose_name="what is asked")),
                ("as_published", models.TextField(blank=True, verbose_name="text as published")),
                ("entered_at", models.DateTimeField()),
                ("looked_at", models.DateTimeField(editable=False, null=True)),
                ("looked_machines", models.PositiveIntegerField(default=0, editable=False)),
                ("looked_components", models.PositiveIntegerField(default=0, editable=False)),
                ("looked_instruments", models.PositiveIntegerField(default=0, editable=False)),
                ("looked_inspections", models.PositiveIntegerField(default=0, editable=False)),
                ("closed_at", models.DateTimeField(blank=True, editable=False, null=True)),
                ("closing_note", models.TextField(blank=True)),
                (
                    "calibration",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="notice",
                        to="fleet.calibration",
                    ),
                ),
                (
                    "closed_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "entered_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "verbose_name": "safety notice",
                "ordering": ["-received_on", "-pk"],
            },
        ),
        migrations.CreateModel(
            name="NoticeItem",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "match",
                    models.CharField(
                        choices=[
                            ("concerned", "Concerned"),
                            ("cannot be decided", "Cannot be decided"),
                            ("changed", "Not concerned by what is recorded now"),
                        ],
                        max_length=20,
                        verbose_name="answer",
                    ),
                ),
                ("reason", models.TextField(blank=True)),
                ("found_at", models.DateTimeField()),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("open", "Open"),
                            ("done", "Done"),
                            ("not concerned", "Not concerned, after looking at it"),
                            ("gone", "Gone"),
                        ],
                        default="open",
                        editable=False,
                        max_length=14,
                    ),
                ),
                ("words", models.TextField(blank=True, verbose_name="what was done or found, or where it went")),
                ("settled_at", models.DateTimeField(blank=True, null=True)),
                (
                    "component",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="notice_items",
                        to="fleet.component",
                    ),
                ),
                (
                    "finding",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="notice_items",
                        to="inspections.finding",
                    ),
                ),
                (
                    "inspection",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="notice_items",
                        to="inspections.inspection",
                    ),
                ),
                (
                    "instrument",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="notice_items",
                        to="fleet.instrument",
                    ),
                ),
                (
                    "machine",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="notice_items",
                        to="fleet.machine",
                    ),
                ),
                (
                    "planned",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="inspections.inspection",
                    ),
                ),
                (
                    "settled_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "notice",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="items", to="inspections.safetynotice"
                    ),
                ),
            ],
            options={
                "verbose_name": "item of a notice",
                "verbose_name_plural": "items of notices",
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="NoticeCriterion",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "what",
                    models.CharField(
                        choices=[("machine", "Machines"), ("component", "Components"), ("instrument", "Instruments")],
                        max_length=12,
                        verbose_name="names",
                    ),
                ),
                (
                    "kind",
                    models.SlugField(
                        blank=True,
                        choices=fleet.models.components.kind_choices,
                        db_index=False,
                        max_length=40,
                        verbose_name="kind of component",
                    ),
                ),
                (
                    "manufacturer",
                    models.CharField(blank=True, max_length=80, verbose_name="manufacturer of the machine"),
                ),
                ("name", models.CharField(blank=True, max_length=100, verbose_name="name of the instrument contains")),
                ("part_numbers", models.TextField(blank=True, verbose_name="manufacturer's part numbers")),
                ("serials", models.TextField(blank=True, verbose_name="serial numbers")),
                ("lots", models.TextField(blank=True)),
                (
                    "built_from",
                    models.PositiveSmallIntegerField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(1900),
                            django.core.validators.MaxValueValidator(2100),
                        ],
                        verbose_name="machine built from",
                    ),
                ),
                (
                    "built_to",
                    models.PositiveSmallIntegerField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(1900),
                            django.core.validators.MaxValueValidator(2100),
                        ],
                        verbose_name="machine built until",
                    ),
                ),
                ("added_at", models.DateTimeField()),
                (
                    "added_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "model",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="fleet.machinemodel",
                        verbose_name="machine model",
                    ),
                ),
                (
                    "notice",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="criteria",
                        to="inspections.safetynotice",
                    ),
                ),
            ],
            options={
                "verbose_name": "criterion",
                "verbose_name_plural": "criteria",
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="SeriousIncident",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("jurisdiction", models.SlugField(blank=True, db_index=False, max_length=20)),
                ("content", models.TextField(editable=False)),
                ("digest", models.CharField(editable=False, max_length=64)),
                ("opened_at", models.DateTimeField()),
                ("closed_at", models.DateTimeField(blank=True, null=True)),
                ("closing_reason", models.TextField(blank=True)),
                (
                    "closed_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "machine",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="incidents", to="fleet.machine"
                    ),
                ),
                (
                    "opened_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "verbose_name": "serious incident",
                "ordering": ["-opened_at", "-pk"],
            },
        ),
        migrations.CreateModel(
            name="IncidentNote",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("text", models.TextField()),
                ("at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "incident",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="notes",
                        to="inspections.seriousincident",
                    ),
                ),
            ],
            options={
                "verbose_name": "note",
                "ordering": ["at", "pk"],
            },
        ),
        migrations.AddConstraint(
            model_name="safetynotice",
            constraint=models.UniqueConstraint(fields=("published_by", "reference"), name="notice_once"),
        ),
        migrations.AddConstraint(
            model_name="safetynotice",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("closed_at__isnull", True), models.Q(("closing_note", ""), _negated=True), _connector="OR"
                ),
                name="notice_closed_with_note",
            ),
        ),
        migrations.AddConstraint(
            model_name="noticeitem",
            constraint=models.UniqueConstraint(
                condition=models.Q(("component", None), ("inspection", None)),
                fields=("notice", "machine"),
                name="notice_item_once_per_machine",
            ),
        ),
        migrations.AddConstraint(
            model_name="noticeitem",
            constraint=models.UniqueConstraint(fields=("notice", "component"), name="notice_item_once_per_component"),
        ),
        migrations.AddConstraint(
            model_name="noticeitem",
            constraint=models.UniqueConstraint(fields=("notice", "instrument"), name="notice_item_once_per_instrument"),
        ),
        migrations.AddConstraint(
            model_name="noticeitem",
            constraint=models.UniqueConstraint(fields=("notice", "inspection"), name="notice_item_once_per_inspection"),
        ),
        migrations.AddConstraint(
            model_name="noticeitem",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("instrument__isnull", True), ("machine__isnull", False)),
                    models.Q(
                        ("component__isnull", True),
                        ("inspection__isnull", True),
                        ("instrument__isnull", False),
                        ("machine__isnull", True),
                    ),
                    _connector="OR",
                ),
                name="notice_item_is_one_thing",
            ),
        ),
        migrations.AddConstraint(
            model_name="noticeitem",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("state", "open"),
                    models.Q(("settled_at__isnull", False), models.Q(("words", ""), _negated=True)),
                    _connector="OR",
                ),
                name="notice_item_settled_with_words",
            ),
        ),
        migrations.AddConstraint(
            model_name="noticecriterion",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("built_from__isnull", True),
                    ("built_to__isnull", True),
                    ("built_to__gte", models.F("built_from")),
                    _connector="OR",
                ),
                name="criterion_years_in_order",
            ),
        ),
        migrations.AddConstraint(
            model_name="seriousincident",
            constraint=models.UniqueConstraint(
                condition=models.Q(("closed_at", None)), fields=("machine",), name="incident_once_open"
            ),
        ),
        migrations.AddConstraint(
            model_name="seriousincident",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("closed_at__isnull", True),
                    models.Q(
                        models.Q(("closing_reason", ""), _negated=True),
                        ("closed_by__isnull", False),
                        models.Q(("closed_by", models.F("opened_by")), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="incident_closed_by_a_second_person",
            ),
        ),
    ]
