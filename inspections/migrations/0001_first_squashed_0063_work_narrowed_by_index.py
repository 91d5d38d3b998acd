"""Every table of inspections as migrations 0001 to 0063 made it, for a database that has none.

The migrations that it replaces stay, for a store of an earlier version.
"""

import django.core.validators
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

import fleet.catalogue.currencies
import fleet.models.components
import inspections.models.label_codes
import inspections.models.planning_rules


class Migration(migrations.Migration):
    replaces = [
        ("inspections", "0001_first"),
        ("inspections", "0002_room_for_every_unit"),
        ("inspections", "0003_no_index_on_short_codes"),
        ("inspections", "0004_booked_by"),
        ("inspections", "0005_chain"),
        ("inspections", "0006_contested_reading"),
        ("inspections", "0007_chain_existing"),
        ("inspections", "0008_finding_of_circuit"),
        ("inspections", "0009_proposal"),
        ("inspections", "0010_limit_without_source"),
        ("inspections", "0011_limit_names_its_source"),
        ("inspections", "0012_reading_token"),
        ("inspections", "0013_words_of_the_trade"),
        ("inspections", "0014_not_tested_mark"),
        ("inspections", "0015_no_index_on_decisions"),
        ("inspections", "0016_one_name_for_one_thing"),
        ("inspections", "0017_incomplete_and_confirmed"),
        ("inspections", "0018_results_not_proved"),
        ("inspections", "0019_inspection_units"),
        ("inspections", "0020_bench_choices"),
        ("inspections", "0021_reading_questions"),
        ("inspections", "0022_as_left"),
        ("inspections", "0023_replacement"),
        ("inspections", "0024_photographs"),
        ("inspections", "0025_step_remark"),
        ("inspections", "0026_minutes_of_work"),
        ("inspections", "0027_reading_typed_at"),
        ("inspections", "0028_device_answer"),
        ("inspections", "0029_labels_and_reports"),
        ("inspections", "0030_photographs_of_faults"),
        ("inspections", "0031_trends"),
        ("inspections", "0032_procedure_drafts"),
        ("inspections", "0033_reading_file_mappings"),
        ("inspections", "0034_reading_repeats"),
        ("inspections", "0035_safety_notices"),
        ("inspections", "0036_attempt"),
        ("inspections", "0037_completion"),
        ("inspections", "0038_completion_of_signed"),
        ("inspections", "0039_finding_code"),
        ("inspections", "0040_planning_rules"),
        ("inspections", "0041_review_weights"),
        ("inspections", "0042_calendars"),
        ("inspections", "0043_calendar_feeds"),
        ("inspections", "0044_interval_dossiers"),
        ("inspections", "0045_attempt_away"),
        ("inspections", "0046_exposure_history"),
        ("inspections", "0047_attachments"),
        ("inspections", "0048_device_book"),
        ("inspections", "0049_rule_skills"),
        ("inspections", "0050_criterion_withdrawn"),
        ("inspections", "0051_evidence_policy"),
        ("inspections", "0052_limit_left"),
        ("inspections", "0053_open_work_by_day"),
        ("inspections", "0054_limit_taken_back"),
        ("inspections", "0055_kept_due_dates"),
        ("inspections", "0056_kept_reviews"),
        ("inspections", "0057_open_work_with_machine"),
        ("inspections", "0058_work_by_stage"),
        ("inspections", "0059_open_findings"),
        ("inspections", "0060_steps_with_later_set"),
        ("inspections", "0061_fault_reports_by_state"),
        ("inspections", "0062_incomplete_by_index"),
        ("inspections", "0063_work_narrowed_by_index"),
    ]

    initial = True

    dependencies = [
        ("fleet", "0001_first_squashed_0053_circuit_reading"),
    ]

    operations = [
        migrations.CreateModel(
            name="Finding",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "machine",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="findings", to="fleet.machine"
                    ),
                ),
                (
                    "origin",
                    models.CharField(
                        choices=[
                            ("failed outcome", "Failed result"),
                            ("not proved", "Result not proved"),
                            ("fault report", "Fault report"),
                            ("circuit", "Circuit contradicts record"),
                            ("not tested", "Essential step not tested"),
                            ("notice", "Safety notice"),
                            ("not located", "Could not be located"),
                            ("altered", "Machine altered"),
                        ],
                        max_length=20,
                    ),
                ),
                (
                    "severity",
                    models.CharField(
                        choices=[
                            ("essential", "Essential: the machine must not be used"),
                            ("other", "Other: to be dealt with"),
                        ],
                        max_length=10,
                    ),
                ),
                ("title", models.CharField(max_length=200)),
                ("description", models.TextField(blank=True)),
                ("contradiction", models.CharField(blank=True, editable=False, max_length=120)),
                (
                    "opened_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "token",
                    models.ForeignKey(
                        blank=True,
                        db_index=False,
                        help_text="The token of `opened_by` with which a program reported it; empty for what the person reported.",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="fleet.apitoken",
                    ),
                ),
                ("opened_at", models.DateTimeField()),
                (
                    "closed_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("closed_at", models.DateTimeField(null=True)),
                ("closing_note", models.TextField(blank=True)),
                (
                    "code",
                    models.CharField(
                        blank=True,
                        help_text="Why it was wrong, by the codes of findings.",
                        max_length=40,
                        verbose_name="code",
                    ),
                ),
                ("cause", models.CharField(blank=True, max_length=300)),
                (
                    "found_how",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("inspection", "Inspection"),
                            ("daily check", "Daily check"),
                            ("user report", "Report of a user"),
                            ("during use", "During use on a patient"),
                            ("recall", "Recall or safety notice"),
                            ("other", "Other"),
                        ],
                        max_length=20,
                        verbose_name="found by",
                    ),
                ),
                ("work_hours", models.DecimalField(blank=True, decimal_places=1, max_digits=6, null=True)),
            ],
            options={
                "ordering": ["-opened_at", "-pk"],
                "permissions": [("close_finding", "Can close findings")],
                "indexes": [
                    models.Index(fields=["machine", "closed_at"], name="finding_by_machine"),
                    models.Index(
                        condition=models.Q(("closed_at__isnull", True)),
                        fields=["severity", "-opened_at", "-id", "machine"],
                        name="finding_open_worst_first",
                    ),
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("closed_at__isnull", True), models.Q(("closing_note", ""), _negated=True), _connector="OR"
                        ),
                        name="finding_closed_with_note",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("code", ""), models.Q(("found_how", ""), _negated=True), _connector="OR"),
                        name="finding_coded_says_how_found",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("closed_at__isnull", True), models.Q(("contradiction", ""), _negated=True)),
                        fields=("machine", "contradiction"),
                        name="finding_once_per_contradiction",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="KeptRules",
            fields=[
                ("kind", models.CharField(max_length=20, primary_key=True, serialize=False)),
                ("rules", models.CharField(max_length=16)),
                ("day", models.DateField(null=True)),
                ("is_whole", models.BooleanField()),
                ("filled_at", models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name="Procedure",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("code", models.SlugField(max_length=40, unique=True)),
                ("title", models.CharField(max_length=120)),
                (
                    "interval_months",
                    models.PositiveSmallIntegerField(
                        blank=True,
                        help_text="Months between two inspections; empty if done only when needed.",
                        null=True,
                    ),
                ),
                (
                    "window_days",
                    models.PositiveSmallIntegerField(default=14, help_text="Days either side of the due date."),
                ),
            ],
            options={
                "ordering": ["code"],
            },
        ),
        migrations.CreateModel(
            name="BenchUnits",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "person",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="bench_units",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("units", models.JSONField(default=dict)),
            ],
            options={
                "verbose_name_plural": "units at the bench",
            },
        ),
        migrations.CreateModel(
            name="CalendarFeed",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "person",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="calendar_feeds",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "area",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="fleet.area",
                    ),
                ),
                ("digest", models.CharField(max_length=64, unique=True)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("at", models.DateTimeField()),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("withdrawn_at", models.DateTimeField(null=True)),
            ],
            options={
                "ordering": ["-at", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("area__isnull", True), ("person__isnull", False)),
                            models.Q(("area__isnull", False), ("person__isnull", True)),
                            _connector="OR",
                        ),
                        name="calendar_feed_of_person_or_area",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="ChainHead",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "site",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="chain_head", to="fleet.site"
                    ),
                ),
                ("sequence", models.PositiveIntegerField(default=0)),
                ("digest", models.CharField(max_length=64)),
                ("at", models.DateTimeField(null=True)),
            ],
            options={
                "ordering": ["site"],
            },
        ),
        migrations.CreateModel(
            name="Competence",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="competences",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "machine_model",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="fleet.machinemodel",
                    ),
                ),
                ("manufacturer", models.CharField(blank=True, max_length=100)),
                ("skill", models.CharField(blank=True, max_length=60)),
                (
                    "last_day",
                    models.DateField(
                        blank=True, help_text="The last day on which it is valid; empty: no end.", null=True
                    ),
                ),
                (
                    "evidence",
                    models.CharField(help_text="What shows it, such as a course with its date.", max_length=200),
                ),
                (
                    "confirmed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("confirmed_at", models.DateTimeField()),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("withdrawn_at", models.DateTimeField(null=True)),
            ],
            options={
                "ordering": ["person", "skill", "manufacturer", "machine_model", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("machine_model__isnull", False), ("manufacturer", ""), ("skill", "")),
                            models.Q(
                                ("machine_model__isnull", True),
                                ("skill", ""),
                                models.Q(("manufacturer", ""), _negated=True),
                            ),
                            models.Q(
                                ("machine_model__isnull", True),
                                ("manufacturer", ""),
                                models.Q(("skill", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="competence_for_one_subject",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="ComponentLife",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("kind", models.SlugField(choices=fleet.models.components.kind_choices, db_index=False, max_length=40)),
                (
                    "machine_model",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="fleet.machinemodel",
                    ),
                ),
                ("life", models.PositiveIntegerField()),
                (
                    "unit",
                    models.CharField(
                        choices=[
                            ("months", "Months since it was fitted"),
                            ("hours", "Hours of use"),
                            ("cycles", "Cycles"),
                        ],
                        max_length=6,
                    ),
                ),
                (
                    "source",
                    models.CharField(
                        choices=[
                            ("manufacturer", "Manufacturer's instructions"),
                            ("law", "Law or regulation"),
                            ("policy", "Policy of the department"),
                            ("evidence", "Evidence from signed inspections"),
                        ],
                        max_length=12,
                        verbose_name="based on",
                    ),
                ),
                ("reference", models.CharField(max_length=300)),
                ("reason", models.CharField(max_length=300)),
                ("from_date", models.DateField()),
                ("until_date", models.DateField(blank=True, editable=False, null=True)),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("at", models.DateTimeField()),
                ("ended_reason", models.CharField(blank=True, editable=False, max_length=300)),
                (
                    "ended_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("ended_at", models.DateTimeField(null=True)),
            ],
            options={
                "verbose_name": "life of a component",
                "verbose_name_plural": "lives of components",
                "ordering": ["kind", "-from_date", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("life__gte", 1), ("life__lte", 1000000)), name="component_life_positive"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("reason", ""), _negated=True), models.Q(("reference", ""), _negated=True)
                        ),
                        name="component_life_has_reason",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("ended_at", None), ("until_date", None)),
                            models.Q(("ended_at__isnull", False), ("until_date__gte", models.F("from_date"))),
                            _connector="OR",
                        ),
                        name="component_life_in_order",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="CriterionJudgement",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "machine",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="judgements", to="fleet.machine"
                    ),
                ),
                ("criterion", models.CharField(max_length=8)),
                ("answer", models.CharField(choices=[("met", "Met"), ("not met", "Not met")], max_length=10)),
                ("reason", models.CharField(max_length=300)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("at", models.DateTimeField()),
            ],
            options={
                "ordering": ["-at", "-pk"],
                "permissions": [
                    ("view_review", "Can read the retirement review"),
                    ("judge_review", "Can judge criteria of the retirement review"),
                ],
                "indexes": [models.Index(fields=["machine", "criterion", "-at"], name="judgement_latest")],
            },
        ),
        migrations.CreateModel(
            name="DeviceAnswer",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("key", models.UUIDField(unique=True)),
                ("address", models.CharField(max_length=300)),
                ("status", models.PositiveSmallIntegerField(default=0)),
                ("headers", models.JSONField(default=dict)),
                ("at", models.DateTimeField(db_index=True)),
            ],
            options={
                "verbose_name": "answer to a device",
                "verbose_name_plural": "answers to devices",
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="DeviceBook",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "machine",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="device_books", to="fleet.machine"
                    ),
                ),
                ("digest", models.CharField(max_length=64)),
                ("files", models.PositiveIntegerField(help_text="Attached files that went with it.")),
                ("records", models.PositiveIntegerField(help_text="Signed records that went with it.")),
                (
                    "made_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("made_at", models.DateTimeField()),
            ],
            options={
                "verbose_name": "device book",
                "ordering": ["-made_at", "-pk"],
                "permissions": [("make_devicebook", "Can make device books")],
            },
        ),
        migrations.CreateModel(
            name="EvidencePolicy",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "code",
                    models.CharField(
                        choices=[("essential", "Essential"), ("other", "Other")],
                        max_length=20,
                        verbose_name="class of procedures",
                    ),
                ),
                ("most_share", models.FloatField()),
                ("confidence", models.FloatField()),
                ("source", models.CharField(max_length=300)),
                ("reason", models.CharField(max_length=300)),
                (
                    "proposed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("at", models.DateTimeField()),
            ],
            options={
                "verbose_name_plural": "evidence policies",
                "ordering": ["-at", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("confidence__gt", 0.5), ("confidence__lt", 1), ("most_share__gt", 0), ("most_share__lt", 1)
                        ),
                        name="evidence_policy_shares",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("by", models.F("proposed_by")), _negated=True),
                        name="evidence_policy_by_two",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("source", ""), _negated=True), models.Q(("reason", ""), _negated=True)
                        ),
                        name="evidence_policy_has_reason",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="FleetChoice",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("title", models.CharField(max_length=120)),
                (
                    "site",
                    models.ForeignKey(
                        help_text="Empty: all sites of the currency.",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="fleet_choices",
                        to="fleet.site",
                    ),
                ),
                ("currency", models.CharField(choices=fleet.catalogue.currencies.currency_choices, max_length=3)),
                ("asked", models.JSONField()),
                ("inputs", models.JSONField()),
                ("result", models.JSONField()),
                ("digest", models.CharField(max_length=64)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("at", models.DateTimeField()),
            ],
            options={
                "ordering": ["-at", "-pk"],
                "permissions": [("choose_fleet", "Can compute what a sum closes")],
            },
        ),
        migrations.CreateModel(
            name="ExposureHistory",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "site",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="exposure_histories",
                        to="fleet.site",
                    ),
                ),
                (
                    "choice",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="exposure_histories",
                        to="inspections.fleetchoice",
                    ),
                ),
                ("result", models.JSONField()),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("at", models.DateTimeField()),
            ],
            options={
                "verbose_name_plural": "exposure histories",
                "ordering": ["-at", "-pk"],
            },
        ),
        migrations.CreateModel(
            name="FreeDay",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="free_days", to="fleet.site"
                    ),
                ),
                ("day", models.DateField()),
                ("title", models.CharField(max_length=80)),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("at", models.DateTimeField()),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("withdrawn_at", models.DateTimeField(null=True)),
            ],
            options={
                "ordering": ["day", "pk"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("withdrawn_at", None)),
                        fields=("site", "day"),
                        name="free_day_once_per_site",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="InstrumentOfDay",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="instruments_of_day",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name="+", to="fleet.site"),
                ),
                ("day", models.DateField()),
                (
                    "instrument",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="+", to="fleet.instrument"
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "instruments of a day",
                "ordering": ["person", "site", "day", "instrument"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("person", "site", "day", "instrument"), name="instrument_of_day_once"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="KeptReview",
            fields=[
                (
                    "machine",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="+",
                        serialize=False,
                        to="fleet.machine",
                    ),
                ),
                ("asset_number", models.CharField(max_length=40)),
                (
                    "site",
                    models.ForeignKey(
                        db_index=False, on_delete=django.db.models.deletion.CASCADE, related_name="+", to="fleet.site"
                    ),
                ),
                (
                    "area",
                    models.ForeignKey(
                        db_index=False, on_delete=django.db.models.deletion.CASCADE, related_name="+", to="fleet.area"
                    ),
                ),
                (
                    "model",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="fleet.machinemodel",
                    ),
                ),
                ("day", models.DateField(null=True)),
                (
                    "conclusion",
                    models.PositiveSmallIntegerField(help_text="Its place among the conclusions, worst first."),
                ),
                ("absolute", models.PositiveSmallIntegerField()),
                ("exposure", models.FloatField()),
                ("relative", models.PositiveSmallIntegerField()),
                ("burden", models.FloatField(help_text="To the tenth.")),
                ("not_known", models.PositiveSmallIntegerField()),
                ("support_ends", models.PositiveIntegerField()),
                ("hours_down", models.PositiveIntegerField()),
                ("findings", models.PositiveIntegerField()),
                ("is_provisional", models.BooleanField()),
                ("met_absolute", models.CharField(blank=True, max_length=200)),
                ("met_relative", models.CharField(blank=True, max_length=200)),
                ("open_questions", models.CharField(blank=True, max_length=200)),
                ("cover", models.BigIntegerField(null=True)),
            ],
            options={
                "ordering": (
                    "conclusion",
                    "-absolute",
                    "-exposure",
                    "-relative",
                    "-burden",
                    "-not_known",
                    "support_ends",
                    "-hours_down",
                    "-findings",
                    "asset_number",
                ),
                "indexes": [
                    models.Index(
                        fields=[
                            "conclusion",
                            "-absolute",
                            "-exposure",
                            "-relative",
                            "-burden",
                            "-not_known",
                            "support_ends",
                            "-hours_down",
                            "-findings",
                            "asset_number",
                            "is_provisional",
                            "site",
                            "area",
                            "model",
                        ],
                        name="kept_review_by_place",
                    ),
                    models.Index(fields=["day"], name="kept_review_by_day"),
                    models.Index(fields=["cover"], name="kept_review_by_cover"),
                ],
            },
        ),
        migrations.CreateModel(
            name="Leave",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="leaves", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("leave", "Leave"),
                            ("illness", "Illness"),
                            ("training", "Training"),
                            ("other", "Other work"),
                        ],
                        default="leave",
                        max_length=10,
                    ),
                ),
                ("first_day", models.DateField()),
                ("last_day", models.DateField()),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("at", models.DateTimeField()),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("withdrawn_at", models.DateTimeField(null=True)),
            ],
            options={
                "ordering": ["-first_day", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("last_day__gte", models.F("first_day"))), name="leave_ends_after_it_begins"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="LimitConfirmation",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="limit_confirmations", to="fleet.site"
                    ),
                ),
                ("test_code", models.SlugField(db_index=False, max_length=40)),
                ("result_key", models.SlugField(db_index=False, max_length=60, verbose_name="result")),
                ("rule", models.SlugField(db_index=False, max_length=60)),
                ("rule_edition", models.CharField(blank=True, max_length=120)),
                ("lower_si", models.CharField(blank=True, max_length=20)),
                ("upper_si", models.CharField(blank=True, max_length=20)),
                (
                    "edition",
                    models.CharField(
                        help_text="The publication, edition and page in which it was looked up.", max_length=120
                    ),
                ),
                ("reason", models.CharField(max_length=300)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("at", models.DateTimeField()),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("withdrawn_at", models.DateTimeField(null=True)),
                ("withdrawn_reason", models.CharField(blank=True, max_length=300)),
            ],
            options={
                "ordering": ["test_code", "result_key", "pk"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("withdrawn_at", None)),
                        fields=("site", "test_code", "result_key", "rule", "rule_edition", "lower_si", "upper_si"),
                        name="limit_confirmed_once",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("edition", ""), _negated=True), models.Q(("reason", ""), _negated=True)
                        ),
                        name="limit_confirmed_by_an_edition",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("withdrawn_at", None), ("withdrawn_by", None)),
                            models.Q(
                                ("withdrawn_at__isnull", False),
                                ("withdrawn_by__isnull", False),
                                models.Q(("withdrawn_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="limit_confirmation_withdrawn_by_someone",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="LimitLeft",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="limits_left", to="fleet.site"
                    ),
                ),
                ("test_code", models.SlugField(db_index=False, max_length=40)),
                ("result_key", models.SlugField(db_index=False, max_length=60, verbose_name="result")),
                ("code", models.SlugField(db_index=False, max_length=16)),
                ("reason", models.CharField(max_length=300)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("at", models.DateTimeField()),
                (
                    "taken_back_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("taken_back_at", models.DateTimeField(null=True)),
                ("taken_back_reason", models.CharField(blank=True, max_length=300)),
            ],
            options={
                "verbose_name_plural": "limits left as proposed",
                "ordering": ["test_code", "result_key", "pk"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("taken_back_at", None)),
                        fields=("site", "code"),
                        name="limit_left_once_at_a_time",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("reason", ""), _negated=True), name="limit_left_with_reason"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("taken_back_at", None), ("taken_back_by", None)),
                            models.Q(
                                ("taken_back_at__isnull", False),
                                ("taken_back_by__isnull", False),
                                models.Q(("taken_back_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="limit_left_taken_back_by_someone",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="LimitOverride",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "machine_model",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="limits",
                        to="fleet.machinemodel",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="limits",
                        to="fleet.site",
                    ),
                ),
                ("test_code", models.SlugField(max_length=40)),
                ("result_key", models.SlugField(db_column="outcome_key", max_length=60)),
                ("rule", models.SlugField(blank=True, max_length=60)),
                ("lower", models.FloatField(blank=True, null=True)),
                ("upper", models.FloatField(blank=True, null=True)),
                ("unit", models.CharField(blank=True, max_length=20)),
                ("reason", models.CharField(max_length=300)),
                ("source", models.CharField(max_length=300)),
                ("edition", models.CharField(blank=True, max_length=120)),
                ("without_source", models.BooleanField(default=False, editable=False)),
                ("from_date", models.DateField()),
                ("until_date", models.DateField(blank=True, null=True)),
                ("ended_reason", models.CharField(blank=True, editable=False, max_length=300)),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("at", models.DateTimeField()),
            ],
            options={
                "ordering": ["test_code", "result_key", "-from_date", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("machine_model__isnull", False), ("site__isnull", True)),
                            models.Q(("machine_model__isnull", True), ("site__isnull", False)),
                            _connector="OR",
                        ),
                        name="limit_for_model_or_site",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("rule", ""), _negated=True),
                            ("lower__isnull", False),
                            ("upper__isnull", False),
                            _connector="OR",
                        ),
                        name="limit_says_something",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("reason", ""), _negated=True), models.Q(("source", ""), _negated=True)
                        ),
                        name="limit_has_reason_and_source",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("without_source", True),
                            models.Q(
                                models.Q(
                                    (
                                        "source__trim__lower__in",
                                        (
                                            "",
                                            "-",
                                            "--",
                                            "–",
                                            "—",
                                            ".",
                                            "..",
                                            "...",
                                            "?",
                                            "??",
                                            "???",
                                            "/",
                                            "n/a",
                                            "na",
                                            "n.a.",
                                            "none",
                                            "no",
                                            "nil",
                                            "null",
                                            "nothing",
                                            "no source",
                                            "no reason",
                                            "without",
                                            "without source",
                                            "unknown",
                                            "not known",
                                            "not specified",
                                            "unspecified",
                                            "tbd",
                                            "tbc",
                                            "to do",
                                            "todo",
                                            "to follow",
                                            "x",
                                            "xx",
                                            "xxx",
                                            "test",
                                            "source",
                                            "reason",
                                        ),
                                    ),
                                    _negated=True,
                                ),
                                models.Q(
                                    (
                                        "reason__trim__lower__in",
                                        (
                                            "",
                                            "-",
                                            "--",
                                            "–",
                                            "—",
                                            ".",
                                            "..",
                                            "...",
                                            "?",
                                            "??",
                                            "???",
                                            "/",
                                            "n/a",
                                            "na",
                                            "n.a.",
                                            "none",
                                            "no",
                                            "nil",
                                            "null",
                                            "nothing",
                                            "no source",
                                            "no reason",
                                            "without",
                                            "without source",
                                            "unknown",
                                            "not known",
                                            "not specified",
                                            "unspecified",
                                            "tbd",
                                            "tbc",
                                            "to do",
                                            "todo",
                                            "to follow",
                                            "x",
                                            "xx",
                                            "xxx",
                                            "test",
                                            "source",
                                            "reason",
                                        ),
                                    ),
                                    _negated=True,
                                ),
                            ),
                            _connector="OR",
                        ),
                        name="limit_names_its_source",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="MachineLabel",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "machine",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="labels", to="fleet.machine"
                    ),
                ),
                (
                    "code",
                    models.CharField(
                        default=inspections.models.label_codes.new_code, editable=False, max_length=26, unique=True
                    ),
                ),
                (
                    "issued_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("issued_at", models.DateTimeField()),
                (
                    "replaced_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("replaced_at", models.DateTimeField(blank=True, null=True)),
                ("replaced_reason", models.CharField(blank=True, max_length=300)),
            ],
            options={
                "verbose_name": "label",
                "ordering": ["-issued_at", "-pk"],
                "permissions": [("replace_machinelabel", "Can replace the code of a label")],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("replaced_at", None)), fields=("machine",), name="label_once_in_force"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("replaced_at__isnull", True),
                            models.Q(("replaced_reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="label_replaced_with_reason",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="FaultReport",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "machine",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="fault_reports", to="fleet.machine"
                    ),
                ),
                (
                    "label",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="inspections.machinelabel",
                    ),
                ),
                ("what", models.TextField(max_length=2000, verbose_name="what happened")),
                ("where", models.CharField(max_length=200, verbose_name="where the machine is")),
                ("who", models.CharField(max_length=120, verbose_name="who reports it")),
                ("key", models.CharField(editable=False, max_length=64, unique=True)),
                ("reported_at", models.DateTimeField()),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("waiting", "Waiting for triage"),
                            ("finding", "In a finding"),
                            ("dismissed", "Dismissed"),
                        ],
                        default="waiting",
                        editable=False,
                        max_length=10,
                    ),
                ),
                (
                    "finding",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="fault_reports",
                        to="inspections.finding",
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
                ("settled_at", models.DateTimeField(blank=True, null=True)),
                ("reason", models.TextField(blank=True, verbose_name="why it was dismissed")),
            ],
            options={
                "verbose_name": "fault report",
                "ordering": ["-reported_at", "-pk"],
                "permissions": [("triage_faultreport", "Can triage fault reports")],
                "indexes": [
                    models.Index(fields=["machine", "reported_at"], name="fault_report_by_machine"),
                    models.Index(fields=["state", "reported_at"], name="fault_report_by_state"),
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("finding__isnull", True), ("settled_at__isnull", True), ("state", "waiting")),
                            models.Q(("finding__isnull", False), ("settled_at__isnull", False), ("state", "finding")),
                            models.Q(
                                ("finding__isnull", True),
                                ("settled_at__isnull", False),
                                ("state", "dismissed"),
                                models.Q(("reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="fault_report_state_is_whole",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="FaultPhotograph",
            fields=[
                (
                    "report",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="photograph",
                        serialize=False,
                        to="inspections.faultreport",
                    ),
                ),
                ("content", models.BinaryField()),
                ("digest", models.CharField(help_text="SHA-256 of the content, in hexadecimal.", max_length=64)),
                ("width", models.PositiveSmallIntegerField()),
                ("height", models.PositiveSmallIntegerField()),
            ],
        ),
        migrations.CreateModel(
            name="MeterReading",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "component",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="meter_readings", to="fleet.component"
                    ),
                ),
                (
                    "unit",
                    models.CharField(
                        choices=[
                            ("months", "Months since it was fitted"),
                            ("hours", "Hours of use"),
                            ("cycles", "Cycles"),
                        ],
                        max_length=6,
                    ),
                ),
                ("used", models.PositiveIntegerField(verbose_name="hours or cycles since it was fitted")),
                ("read_on", models.DateField()),
                ("note", models.CharField(blank=True, max_length=300)),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("at", models.DateTimeField()),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("withdrawn_at", models.DateTimeField(null=True)),
            ],
            options={
                "ordering": ["-read_on", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("unit__in", ("hours", "cycles"))), name="meter_reading_of_a_meter"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="PlanningRule",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "procedure",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="planning_rules",
                        to="inspections.procedure",
                    ),
                ),
                (
                    "reach",
                    models.CharField(
                        choices=[
                            ("machine", "one machine"),
                            ("feature", "machines with a safety feature fitted"),
                            ("model", "one machine model"),
                            ("area", "one area"),
                            ("site", "one site"),
                            ("all", "all machines"),
                        ],
                        max_length=10,
                    ),
                ),
                (
                    "machine",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="planning_rules",
                        to="fleet.machine",
                    ),
                ),
                (
                    "feature",
                    models.SlugField(
                        blank=True,
                        choices=inspections.models.planning_rules.feature_names,
                        db_index=False,
                        max_length=40,
                        verbose_name="safety feature",
                    ),
                ),
                (
                    "machine_model",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="fleet.machinemodel",
                    ),
                ),
                (
                    "area",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="fleet.area",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="fleet.site",
                    ),
                ),
                ("is_planned", models.BooleanField(default=True)),
                ("interval_months", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("interval_days", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("window_days", models.PositiveSmallIntegerField(blank=True, null=True)),
                (
                    "minutes",
                    models.PositiveSmallIntegerField(blank=True, null=True, verbose_name="expected minutes of work"),
                ),
                ("skills", models.CharField(blank=True, max_length=300, verbose_name="skills that it asks for")),
                (
                    "source",
                    models.CharField(
                        choices=[
                            ("manufacturer", "Manufacturer's instructions"),
                            ("law", "Law or regulation"),
                            ("policy", "Policy of the department"),
                            ("evidence", "Evidence from signed inspections"),
                        ],
                        max_length=12,
                        verbose_name="based on",
                    ),
                ),
                ("reference", models.CharField(max_length=300)),
                ("reason", models.CharField(max_length=300)),
                ("from_date", models.DateField()),
                ("until_date", models.DateField(blank=True, editable=False, null=True)),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("at", models.DateTimeField()),
                ("ended_reason", models.CharField(blank=True, editable=False, max_length=300)),
                (
                    "ended_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("ended_at", models.DateTimeField(null=True)),
                ("begun_at", models.DateTimeField(null=True)),
                ("stopped_at", models.DateTimeField(null=True)),
            ],
            options={
                "ordering": ["procedure__code", "-from_date", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("pk__in", []),
                            models.Q(
                                ("reach", "machine"),
                                models.Q(("machine__isnull", True), _negated=True),
                                ("feature", ""),
                                ("machine_model__isnull", True),
                                ("area__isnull", True),
                                ("site__isnull", True),
                            ),
                            models.Q(
                                ("reach", "feature"),
                                ("machine__isnull", True),
                                models.Q(("feature", ""), _negated=True),
                                ("machine_model__isnull", True),
                                ("area__isnull", True),
                                ("site__isnull", True),
                            ),
                            models.Q(
                                ("reach", "model"),
                                ("machine__isnull", True),
                                ("feature", ""),
                                models.Q(("machine_model__isnull", True), _negated=True),
                                ("area__isnull", True),
                                ("site__isnull", True),
                            ),
                            models.Q(
                                ("reach", "area"),
                                ("machine__isnull", True),
                                ("feature", ""),
                                ("machine_model__isnull", True),
                                models.Q(("area__isnull", True), _negated=True),
                                ("site__isnull", True),
                            ),
                            models.Q(
                                ("reach", "site"),
                                ("machine__isnull", True),
                                ("feature", ""),
                                ("machine_model__isnull", True),
                                ("area__isnull", True),
                                models.Q(("site__isnull", True), _negated=True),
                            ),
                            models.Q(
                                ("reach", "all"),
                                ("machine__isnull", True),
                                ("feature", ""),
                                ("machine_model__isnull", True),
                                ("area__isnull", True),
                                ("site__isnull", True),
                            ),
                            _connector="OR",
                        ),
                        name="planning_rule_one_scope",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("is_planned", True),
                                ("window_days__isnull", False),
                                models.Q(
                                    models.Q(
                                        ("interval_days", None),
                                        ("interval_months__gte", 1),
                                        ("interval_months__lte", 120),
                                    ),
                                    models.Q(
                                        ("interval_days__gte", 1),
                                        ("interval_days__lte", 365),
                                        ("interval_months", None),
                                    ),
                                    _connector="OR",
                                ),
                            ),
                            models.Q(
                                ("interval_days", None),
                                ("interval_months", None),
                                ("is_planned", False),
                                ("minutes", None),
                                ("window_days", None),
                            ),
                            _connector="OR",
                        ),
                        name="planning_rule_interval",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("reason", ""), _negated=True), models.Q(("reference", ""), _negated=True)
                        ),
                        name="planning_rule_has_reason",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("ended_at", None), ("until_date", None)),
                            models.Q(("ended_at__isnull", False), ("until_date__gte", models.F("from_date"))),
                            _connector="OR",
                        ),
                        name="planning_rule_in_order",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("minutes", None), models.Q(("minutes__gte", 1), ("minutes__lte", 1440)), _connector="OR"
                        ),
                        name="planning_rule_minutes",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("is_planned", True), ("skills", ""), _connector="OR"),
                        name="planning_rule_skills_where_planned",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="IntervalDossier",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "procedure",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="dossiers", to="inspections.procedure"
                    ),
                ),
                (
                    "machine_model",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="fleet.machinemodel",
                    ),
                ),
                ("interval_months", models.PositiveSmallIntegerField()),
                ("window_days", models.PositiveSmallIntegerField()),
                ("data_from", models.DateField()),
                ("as_of", models.DateField()),
                ("policy", models.CharField(max_length=20)),
                ("most_share", models.FloatField()),
                ("confidence", models.FloatField()),
                ("reason", models.CharField(max_length=300)),
                ("evidence", models.JSONField()),
                ("digest", models.CharField(max_length=64)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("draft", "Draft"),
                            ("in force", "In force"),
                            ("withdrawn", "Withdrawn by itself"),
                            ("ended", "Ended"),
                            ("discarded", "Discarded"),
                        ],
                        default="draft",
                        max_length=12,
                    ),
                ),
                (
                    "drafted_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("drafted_at", models.DateTimeField()),
                (
                    "approved_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("approved_at", models.DateTimeField(null=True)),
                (
                    "rule",
                    models.OneToOneField(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="dossier",
                        to="inspections.planningrule",
                    ),
                ),
                (
                    "replaced",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="inspections.planningrule",
                    ),
                ),
                (
                    "ended_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("ended_at", models.DateTimeField(null=True)),
                ("ended_reason", models.CharField(blank=True, max_length=300)),
                ("watched_on", models.DateField(null=True)),
                ("watched_share", models.FloatField(null=True)),
            ],
            options={
                "ordering": ["-drafted_at", "-pk"],
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("interval_months__gte", 1)), name="dossier_interval"),
                    models.CheckConstraint(
                        condition=models.Q(("as_of__gte", models.F("data_from"))), name="dossier_data_in_order"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("confidence__gt", 0.5), ("confidence__lt", 1), ("most_share__gt", 0), ("most_share__lt", 1)
                        ),
                        name="dossier_policy",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("approved_by", None), ("rule", None)),
                            models.Q(
                                ("approved_by__isnull", False),
                                ("rule__isnull", False),
                                models.Q(("approved_by", models.F("drafted_by")), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="dossier_approved_by_another",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state__in", ("in force", "withdrawn", "ended")), _negated=True),
                            ("approved_by__isnull", False),
                            _connector="OR",
                        ),
                        name="dossier_in_force_is_approved",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("ended_at", None), ("state__in", ("draft", "in force"))),
                            models.Q(
                                models.Q(("state__in", ("draft", "in force")), _negated=True),
                                ("ended_at__isnull", False),
                                models.Q(("ended_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="dossier_ends_with_reason",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ProcedureVersion",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "procedure",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="versions", to="inspections.procedure"
                    ),
                ),
                ("number", models.PositiveSmallIntegerField()),
                ("content", models.JSONField()),
                ("digest", models.CharField(max_length=64)),
                ("loaded_at", models.DateTimeField()),
                ("from_date", models.DateField(null=True)),
                (
                    "proposed_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "approved_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["procedure", "-number"],
                "constraints": [
                    models.UniqueConstraint(fields=("procedure", "number"), name="procedure_version_once"),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("approved_by", None), ("proposed_by", None)),
                            models.Q(
                                ("approved_by__isnull", False),
                                ("proposed_by__isnull", False),
                                models.Q(("approved_by", models.F("proposed_by")), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="procedure_version_by_two",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Inspection",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "machine",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="inspections", to="fleet.machine"
                    ),
                ),
                (
                    "procedure",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="inspections",
                        to="inspections.procedure",
                    ),
                ),
                (
                    "version",
                    models.ForeignKey(
                        help_text="Set when the inspection starts.",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="inspections",
                        to="inspections.procedureversion",
                    ),
                ),
                (
                    "stage",
                    models.CharField(
                        choices=[
                            ("planned", "Planned"),
                            ("booked", "Booked"),
                            ("on bench", "In progress"),
                            ("signed", "Signed"),
                            ("countersigned", "Countersigned"),
                            ("void", "Void"),
                        ],
                        default="planned",
                        editable=False,
                        max_length=14,
                    ),
                ),
                ("due_on", models.DateField()),
                ("opens_on", models.DateField(help_text="First day of the due window.")),
                ("closes_on", models.DateField(help_text="Last day of the due window; overdue after it.")),
                ("booked_on", models.DateField(blank=True, null=True)),
                (
                    "technician",
                    models.ForeignKey(
                        blank=True,
                        db_index=False,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="inspections",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "planned_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("planned_at", models.DateTimeField()),
                (
                    "booked_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("booked_at", models.DateTimeField(null=True)),
                ("note", models.CharField(blank=True, max_length=300)),
                (
                    "ambient_kpa_abs",
                    models.FloatField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(45),
                            django.core.validators.MaxValueValidator(110),
                        ],
                        verbose_name="ambient pressure (kPa abs)",
                    ),
                ),
                (
                    "temperature_c",
                    models.FloatField(
                        default=20,
                        validators=[
                            django.core.validators.MinValueValidator(5),
                            django.core.validators.MaxValueValidator(45),
                        ],
                        verbose_name="temperature (°C)",
                    ),
                ),
                (
                    "units",
                    models.JSONField(
                        blank=True,
                        default=dict,
                        help_text="Units chosen at its start, by dimension or group of units; what is not among them is asked for as each test declares it.",
                    ),
                ),
                (
                    "opened_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("opened_at", models.DateTimeField(null=True)),
                (
                    "signed_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="signed_inspections",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("signed_at", models.DateTimeField(null=True)),
                (
                    "countersigned_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("countersigned_at", models.DateTimeField(null=True)),
                (
                    "minutes",
                    models.PositiveSmallIntegerField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(1),
                            django.core.validators.MaxValueValidator(1440),
                        ],
                        verbose_name="minutes of work",
                    ),
                ),
                (
                    "voided_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("voided_at", models.DateTimeField(null=True)),
                ("void_reason", models.CharField(blank=True, max_length=300)),
            ],
            options={
                "ordering": ["due_on", "pk"],
                "permissions": [
                    ("plan_inspection", "Can plan and book inspections"),
                    ("enter_reading", "Can enter readings on the bench"),
                    ("sign_inspection", "Can sign inspections"),
                    ("countersign_inspection", "Can countersign inspections"),
                    ("amend_inspection", "Can amend signed inspections"),
                    ("void_inspection", "Can void inspections"),
                ],
                "indexes": [
                    models.Index(
                        fields=["stage", "due_on", "closes_on", "machine", "procedure", "booked_on", "technician"],
                        name="inspection_open_by_due",
                    ),
                    models.Index(fields=["stage", "closes_on", "due_on", "machine"], name="inspection_open_by_end"),
                    models.Index(
                        condition=models.Q(("booked_on__isnull", False)),
                        fields=["booked_on", "stage", "technician", "machine"],
                        name="inspection_by_booking",
                    ),
                    models.Index(
                        condition=models.Q(("signed_at__isnull", False)),
                        fields=["signed_at", "id", "stage"],
                        name="inspection_by_signature",
                    ),
                    models.Index(
                        condition=models.Q(("signed_at__isnull", False)),
                        fields=["stage", "signed_at", "id", "signed_by", "machine", "procedure", "due_on"],
                        name="inspection_to_countersign",
                    ),
                    models.Index(
                        fields=["stage", "booked_on", "technician", "machine", "due_on"],
                        name="inspection_booked_by_day",
                    ),
                    models.Index(
                        fields=["machine", "stage", "signed_at", "due_on", "closes_on", "signed_by"],
                        name="inspection_by_machine",
                    ),
                    models.Index(
                        fields=["procedure", "stage", "due_on", "closes_on", "machine", "signed_at", "signed_by"],
                        name="inspection_by_procedure",
                    ),
                    models.Index(
                        fields=["technician", "stage", "due_on", "closes_on", "machine", "signed_at", "signed_by"],
                        name="inspection_by_technician",
                    ),
                    models.Index(fields=["machine", "procedure", "due_on"], name="inspection_of_due_date"),
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("stage__in", ["planned", "booked", "on bench", "signed", "countersigned", "void"])
                        ),
                        name="inspection_stage_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("signed_at__isnull", False),
                                ("signed_by__isnull", False),
                                ("stage__in", ("signed", "countersigned")),
                            ),
                            models.Q(
                                models.Q(("stage__in", ("signed", "countersigned")), _negated=True),
                                ("signed_at__isnull", True),
                            ),
                            _connector="OR",
                        ),
                        name="inspection_signed_by_someone",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("stage", "countersigned"), _negated=True),
                            models.Q(
                                ("countersigned_by__isnull", False),
                                models.Q(("countersigned_by", models.F("signed_by")), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="inspection_countersigned_by_another",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("stage", "void"), _negated=True),
                            models.Q(("void_reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="inspection_void_has_reason",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("stage__in", ("planned", "void")), ("technician__isnull", False), _connector="OR"
                        ),
                        name="inspection_has_technician",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("stage__in", ("on bench", "signed", "countersigned")), _negated=True),
                            ("version__isnull", False),
                            _connector="OR",
                        ),
                        name="inspection_on_bench_has_version",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("minutes", None), models.Q(("minutes__gte", 1), ("minutes__lte", 1440)), _connector="OR"
                        ),
                        name="inspection_minutes_in_a_day",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Completion",
            fields=[
                (
                    "inspection",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="completion",
                        serialize=False,
                        to="inspections.inspection",
                    ),
                ),
                ("is_complete", models.BooleanField()),
                ("signed_on", models.DateField()),
            ],
            options={
                "ordering": ["inspection"],
                "indexes": [
                    models.Index(
                        condition=models.Q(("is_complete", False)), fields=["inspection"], name="completion_incomplete"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="KeptDueDate",
            fields=[
                (
                    "inspection",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="+",
                        serialize=False,
                        to="inspections.inspection",
                    ),
                ),
                (
                    "machine",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="+", to="fleet.machine"
                    ),
                ),
                (
                    "procedure",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="inspections.procedure",
                    ),
                ),
                (
                    "area",
                    models.ForeignKey(
                        db_index=False, on_delete=django.db.models.deletion.CASCADE, related_name="+", to="fleet.area"
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        db_index=False, on_delete=django.db.models.deletion.CASCADE, related_name="+", to="fleet.site"
                    ),
                ),
                ("closes_on", models.DateField()),
                ("answer", models.CharField(max_length=12)),
                ("is_early", models.BooleanField()),
                ("excuse", models.CharField(blank=True, max_length=20)),
            ],
            options={
                "ordering": ["closes_on", "pk"],
                "indexes": [
                    models.Index(
                        fields=["answer", "is_early", "excuse", "closes_on", "site"], name="kept_due_by_answer"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Attempt",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "inspection",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="attempts",
                        to="inspections.inspection",
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("not located", "Could not locate"),
                            ("in use", "In use"),
                            ("refused", "Refused by the area"),
                            ("lent", "Away: lent"),
                            ("outside repair", "Away: outside repair"),
                            ("deferred", "Deferred"),
                        ],
                        max_length=20,
                    ),
                ),
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
                (
                    "away",
                    models.ForeignKey(
                        help_text="The loan or the outside repair that was recorded for the machine then.",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="attempts",
                        to="fleet.awayperiod",
                    ),
                ),
                ("made_on", models.DateField(help_text="Date of the attempt at the machine's site.")),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("at", models.DateTimeField()),
            ],
            options={
                "ordering": ["-at", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("kind__in", ["not located", "in use", "refused", "lent", "outside repair", "deferred"])
                        ),
                        name="attempt_kind_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("kind", "deferred"), _negated=True),
                            models.Q(
                                ("until__isnull", False),
                                models.Q(("reason", ""), _negated=True),
                                models.Q(("decided_by", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="attempt_deferral_is_whole",
                    ),
                    models.UniqueConstraint(fields=("inspection", "kind", "made_on"), name="attempt_once_a_day"),
                ],
            },
        ),
        migrations.CreateModel(
            name="FeedEvent",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "feed",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="events",
                        to="inspections.calendarfeed",
                    ),
                ),
                (
                    "inspection",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="+", to="inspections.inspection"
                    ),
                ),
                ("starts_at", models.DateTimeField()),
                ("minutes", models.PositiveSmallIntegerField()),
                ("sequence", models.PositiveIntegerField(default=0)),
                ("is_cancelled", models.BooleanField(default=False)),
                ("changed_at", models.DateTimeField()),
            ],
            options={
                "constraints": [models.UniqueConstraint(fields=("feed", "inspection"), name="feed_event_once")],
            },
        ),
        migrations.CreateModel(
            name="InspectionStep",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "inspection",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="steps", to="inspections.inspection"
                    ),
                ),
                ("position", models.PositiveSmallIntegerField()),
                ("code", models.SlugField(db_index=False, max_length=60)),
                ("title", models.CharField(max_length=160)),
                ("test_code", models.SlugField(db_index=False, max_length=40)),
                ("subject", models.CharField(blank=True, max_length=80)),
                (
                    "component",
                    models.ForeignKey(
                        null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="fleet.component"
                    ),
                ),
                ("is_essential", models.BooleanField(default=False)),
                ("content", models.JSONField()),
                ("applies", models.BooleanField(default=True)),
                ("absence", models.CharField(blank=True, help_text="Why the step does not apply.", max_length=300)),
                ("not_tested_reason", models.CharField(blank=True, max_length=300)),
                (
                    "as_left_of",
                    models.ForeignKey(
                        db_index=False,
                        help_text="The set of readings as found, for a set that was taken after a repair or an adjustment.",
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="as_left_sets",
                        to="inspections.inspectionstep",
                    ),
                ),
                ("set_number", models.PositiveSmallIntegerField(default=1)),
                (
                    "is_last",
                    models.BooleanField(
                        default=True,
                        help_text="Whether no further set was begun. Decisions about the inspection rest on the last set.",
                    ),
                ),
                (
                    "work_done",
                    models.CharField(blank=True, help_text="What was done before this set was taken.", max_length=300),
                ),
                (
                    "is_own_work",
                    models.BooleanField(
                        default=False,
                        help_text="Whether the work was on what the step tests, not on something else that calls for it.",
                    ),
                ),
                (
                    "begun_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("begun_at", models.DateTimeField(null=True)),
            ],
            options={
                "ordering": ["position", "pk"],
                "indexes": [
                    models.Index(
                        condition=models.Q(("is_last", False)), fields=["inspection"], name="step_with_later_set"
                    )
                ],
                "constraints": [
                    models.UniqueConstraint(fields=("inspection", "code", "subject"), name="step_once_per_subject"),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("applies", True), models.Q(("absence", ""), _negated=True), _connector="OR"
                        ),
                        name="step_absence_has_reason",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("as_left_of", None), ("set_number", 1)),
                            models.Q(
                                ("as_left_of__isnull", False),
                                ("begun_by__isnull", False),
                                ("set_number__gt", 1),
                                models.Q(("work_done", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="step_as_left_after_work",
                    ),
                    models.UniqueConstraint(fields=("as_left_of", "set_number"), name="step_set_once"),
                    models.UniqueConstraint(
                        condition=models.Q(("is_last", True)), fields=("as_left_of",), name="step_one_last_set"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Amendment",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "inspection",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="amendments",
                        to="inspections.inspection",
                    ),
                ),
                (
                    "step",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="inspections.inspectionstep",
                    ),
                ),
                ("correction", models.TextField(help_text="What should be read instead of what.")),
                ("reason", models.CharField(max_length=300)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("at", models.DateTimeField()),
            ],
            options={
                "ordering": ["at", "pk"],
            },
        ),
        migrations.CreateModel(
            name="ChainEntry",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="chain_entries", to="fleet.site"
                    ),
                ),
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
                (
                    "inspection",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="chain_entries",
                        to="inspections.inspection",
                    ),
                ),
                (
                    "amendment",
                    models.OneToOneField(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="chain_entry",
                        to="inspections.amendment",
                    ),
                ),
                ("content", models.TextField()),
                (
                    "previous",
                    models.CharField(
                        help_text="Digest of the entry before this one; zeros for the first.", max_length=64
                    ),
                ),
                ("digest", models.CharField(help_text="SHA-256 of the content.", max_length=64, unique=True)),
                ("at", models.DateTimeField()),
            ],
            options={
                "verbose_name_plural": "chain entries",
                "ordering": ["site", "sequence"],
                "constraints": [
                    models.UniqueConstraint(fields=("site", "sequence"), name="chain_entry_once"),
                    models.UniqueConstraint(
                        condition=models.Q(("kind", "amended"), _negated=True),
                        fields=("inspection", "kind"),
                        name="chain_entry_once_per_signature",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="NotTestedMark",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "step",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="not_tested_marks",
                        to="inspections.inspectionstep",
                    ),
                ),
                ("reason", models.CharField(max_length=300)),
                (
                    "by",
                    models.ForeignKey(
                        help_text="Empty for a mark from before its author was stored.",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("at", models.DateTimeField(null=True)),
                (
                    "undone_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("undone_at", models.DateTimeField(null=True)),
            ],
            options={
                "verbose_name": "step not tested",
                "verbose_name_plural": "steps not tested",
                "ordering": ["pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("reason", ""), _negated=True), name="not_tested_has_reason"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("at", None), ("by", None)),
                            models.Q(("at__isnull", False), ("by__isnull", False)),
                            _connector="OR",
                        ),
                        name="not_tested_by_someone",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("undone_at", None), ("undone_by", None)),
                            models.Q(("undone_at__isnull", False), ("undone_by__isnull", False)),
                            _connector="OR",
                        ),
                        name="not_tested_undone_by_someone",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("undone_at", None)), fields=("step",), name="not_tested_one_in_force"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Photograph",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "step",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="photographs",
                        to="inspections.inspectionstep",
                    ),
                ),
                (
                    "finding",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="photographs",
                        to="inspections.finding",
                    ),
                ),
                ("content", models.BinaryField(null=True)),
                ("preview", models.BinaryField(null=True)),
                ("digest", models.CharField(help_text="SHA-256 of the content, in hexadecimal.", max_length=64)),
                ("preview_digest", models.CharField(max_length=64)),
                ("width", models.PositiveSmallIntegerField()),
                ("height", models.PositiveSmallIntegerField()),
                ("octets", models.PositiveIntegerField(help_text="Bytes of the content.")),
                ("caption", models.CharField(blank=True, max_length=200)),
                (
                    "by",
                    models.ForeignKey(
                        help_text="Empty for a report without a login.",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("at", models.DateTimeField()),
                (
                    "removed_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("removed_at", models.DateTimeField(null=True)),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("finding__isnull", False), ("step", None)),
                            models.Q(("finding", None), ("step__isnull", False)),
                            _connector="OR",
                        ),
                        name="photograph_of_one_thing",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("content__isnull", False), ("preview__isnull", False), ("removed_at", None)),
                            models.Q(("content", None), ("preview", None), ("removed_at__isnull", False)),
                            _connector="OR",
                        ),
                        name="photograph_until_removed",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("removed_at", None)),
                        fields=("step", "digest"),
                        name="photograph_once_per_step",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("removed_at", None)),
                        fields=("finding", "digest"),
                        name="photograph_once_per_finding",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ContainedInspection",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "done_in",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="contained",
                        to="inspections.inspection",
                    ),
                ),
                (
                    "procedure",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="inspections.procedure"
                    ),
                ),
                ("done_on", models.DateField()),
                (
                    "settled",
                    models.OneToOneField(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="settlement",
                        to="inspections.inspection",
                    ),
                ),
                ("at", models.DateTimeField()),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="ProcedureDraft",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "procedure",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="drafts",
                        to="inspections.procedure",
                    ),
                ),
                ("code", models.SlugField(max_length=40)),
                (
                    "based_on",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="inspections.procedureversion",
                    ),
                ),
                ("content", models.JSONField()),
                (
                    "made_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("made_at", models.DateTimeField()),
                (
                    "changed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("changed_at", models.DateTimeField()),
                (
                    "state",
                    models.CharField(
                        choices=[("writing", "Being written"), ("approved", "Approved"), ("discarded", "Discarded")],
                        default="writing",
                        max_length=10,
                    ),
                ),
                (
                    "version",
                    models.OneToOneField(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="draft",
                        to="inspections.procedureversion",
                    ),
                ),
            ],
            options={
                "verbose_name": "draft of a procedure",
                "verbose_name_plural": "drafts of procedures",
                "ordering": ["-changed_at", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "approved"), ("version__isnull", False)),
                            models.Q(models.Q(("state", "approved"), _negated=True), ("version", None)),
                            _connector="OR",
                        ),
                        name="procedure_draft_became_version",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="DraftWriter",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "draft",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="writers",
                        to="inspections.proceduredraft",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("since", models.DateTimeField()),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="Proposal",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "act",
                    models.CharField(
                        choices=[
                            ("release", "Release of a machine"),
                            ("amendment", "Amendment of a record"),
                            ("closing", "Closing of an essential finding"),
                            ("limit", "New limit"),
                            ("limit end", "End of a limit"),
                            ("confirm", "Confirmation of a limit"),
                            ("unconfirm", "Withdrawal of a confirmation"),
                            ("procedure", "New version of a procedure"),
                            ("interval", "Interval by evidence"),
                            ("policy", "Policy of dossiers"),
                        ],
                        max_length=12,
                    ),
                ),
                ("subject", models.CharField(max_length=120)),
                ("title", models.CharField(max_length=300)),
                (
                    "site",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="proposals",
                        to="fleet.site",
                    ),
                ),
                (
                    "machine",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="proposals",
                        to="fleet.machine",
                    ),
                ),
                (
                    "inspection",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="proposals",
                        to="inspections.inspection",
                    ),
                ),
                (
                    "finding",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="proposals",
                        to="inspections.finding",
                    ),
                ),
                (
                    "limit",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="proposals",
                        to="inspections.limitoverride",
                    ),
                ),
                (
                    "confirmation",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="proposals",
                        to="inspections.limitconfirmation",
                    ),
                ),
                (
                    "draft",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="proposals",
                        to="inspections.proceduredraft",
                    ),
                ),
                (
                    "dossier",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="proposals",
                        to="inspections.intervaldossier",
                    ),
                ),
                ("asked", models.JSONField(default=dict)),
                ("reason", models.CharField(max_length=300)),
                ("why", models.CharField(help_text="Why a second person is needed.", max_length=500)),
                ("grounds", models.JSONField()),
                ("digest", models.CharField(help_text="SHA-256 of the grounds.", max_length=64)),
                (
                    "proposed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("proposed_at", models.DateTimeField()),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("waiting", "Waiting for a second person"),
                            ("confirmed", "Confirmed"),
                            ("declined", "Declined"),
                            ("taken back", "Taken back"),
                        ],
                        default="waiting",
                        max_length=12,
                    ),
                ),
                (
                    "settled_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("settled_at", models.DateTimeField(null=True)),
                ("settled_reason", models.CharField(blank=True, max_length=300)),
            ],
            options={
                "ordering": ["-proposed_at", "-pk"],
                "indexes": [models.Index(fields=["state", "act"], name="proposal_by_state")],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("state", "waiting")), fields=("subject",), name="proposal_one_waits"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("reason", ""), _negated=True), name="proposal_has_reason"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "confirmed"), _negated=True),
                            models.Q(
                                ("settled_by__isnull", False),
                                models.Q(("settled_by", models.F("proposed_by")), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="proposal_confirmed_by_another",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("settled_at__isnull", True), ("state", "waiting")),
                            models.Q(models.Q(("state", "waiting"), _negated=True), ("settled_at__isnull", False)),
                            _connector="OR",
                        ),
                        name="proposal_settled_once",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Reading",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "step",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="readings",
                        to="inspections.inspectionstep",
                    ),
                ),
                ("field", models.SlugField(db_index=False, max_length=40)),
                ("row", models.PositiveSmallIntegerField(default=0)),
                ("column", models.SlugField(blank=True, db_index=False, max_length=40)),
                ("as_read", models.CharField(max_length=40)),
                (
                    "read_again",
                    models.CharField(
                        blank=True,
                        default="",
                        help_text="What the same quantity was read as again, in the same unit, spaces between; the mean of all counts.",
                        max_length=40,
                    ),
                ),
                ("unit", models.CharField(blank=True, max_length=20)),
                (
                    "zero",
                    models.CharField(blank=True, choices=[("gauge", "gauge"), ("absolute", "absolute")], max_length=8),
                ),
                (
                    "instrument",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="readings",
                        to="fleet.instrument",
                    ),
                ),
                (
                    "entered_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "token",
                    models.ForeignKey(
                        blank=True,
                        db_index=False,
                        help_text="The token of `entered_by` with which a program entered it; empty for what the person entered.",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="fleet.apitoken",
                    ),
                ),
                ("entered_at", models.DateTimeField()),
                (
                    "typed_at",
                    models.DateTimeField(
                        help_text="When it was typed on a device without a network, by the clock of the device; else empty.",
                        null=True,
                    ),
                ),
                ("superseded_at", models.DateTimeField(null=True)),
                (
                    "superseded_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "contests",
                    models.ForeignKey(
                        help_text="The reading of another person that was already saved when this one was entered without seeing it.",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="contested_by",
                        to="inspections.reading",
                    ),
                ),
                (
                    "settled_at",
                    models.DateTimeField(help_text="When somebody chose between the two readings.", null=True),
                ),
                (
                    "settled_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["step", "field", "row", "column", "entered_at", "pk"],
                "indexes": [
                    models.Index(fields=["step", "superseded_at"], name="reading_by_step"),
                    models.Index(
                        condition=models.Q(("contests__isnull", False), ("settled_at", None)),
                        fields=["step"],
                        name="reading_contested",
                    ),
                ],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("superseded_at", None)),
                        fields=("step", "field", "row", "column"),
                        name="reading_one_stands",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="ReadingFileMapping",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("instrument", models.CharField(blank=True, max_length=100)),
                ("test_code", models.SlugField(db_index=False, max_length=40)),
                ("digest", models.CharField(max_length=64)),
                ("columns", models.JSONField()),
                ("decimal", models.CharField(max_length=1)),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("said_at", models.DateTimeField()),
            ],
            options={
                "ordering": ["instrument", "test_code", "pk"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("instrument", "test_code", "digest"), name="reading_file_mapping_once"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="ReadingQuestion",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "reading",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="questions", to="inspections.reading"
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("slip", "another unit, a shifted point or swapped digits"),
                            ("pair", "two readings that cannot both be right"),
                            ("trend", "a result that departs from the trend of the machine"),
                        ],
                        max_length=8,
                    ),
                ),
                ("asked", models.CharField(max_length=400)),
                ("alternatives", models.JSONField(default=list)),
                ("asked_at", models.DateTimeField()),
                (
                    "answer",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("", "not answered"),
                            ("right", "right as it is"),
                            ("changed", "another reading was entered"),
                        ],
                        max_length=8,
                    ),
                ),
                (
                    "changed_to",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.RESTRICT,
                        related_name="+",
                        to="inspections.reading",
                    ),
                ),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("at", models.DateTimeField(null=True)),
            ],
            options={
                "ordering": ["reading", "pk"],
                "constraints": [
                    models.UniqueConstraint(fields=("reading", "kind"), name="question_once_per_reading"),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("answer", ""), ("at", None), ("by", None)),
                            models.Q(
                                ("answer__in", ("right", "changed")), ("at__isnull", False), ("by__isnull", False)
                            ),
                            _connector="OR",
                        ),
                        name="question_answered_by_someone",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("changed_to", None), ("answer", "changed"), _connector="OR"),
                        name="question_changed_to_a_reading",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Replacement",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "step",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="replacements",
                        to="inspections.inspectionstep",
                    ),
                ),
                (
                    "component",
                    models.ForeignKey(
                        null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="fleet.component"
                    ),
                ),
                ("code", models.SlugField(db_index=False, max_length=60)),
                ("kind", models.SlugField(db_index=False, max_length=40)),
                ("label", models.CharField(max_length=80)),
                ("gas", models.SlugField(blank=True, db_index=False, max_length=20)),
                (
                    "removed_serial",
                    models.CharField(blank=True, max_length=60, verbose_name="serial of the removed one"),
                ),
                ("removed_lot", models.CharField(blank=True, max_length=60, verbose_name="lot of the removed one")),
                (
                    "removed_part_number",
                    models.CharField(blank=True, max_length=60, verbose_name="part number of the removed one"),
                ),
                ("fitted_serial", models.CharField(blank=True, max_length=60, verbose_name="serial")),
                ("fitted_lot", models.CharField(blank=True, max_length=60, verbose_name="lot")),
                ("fitted_part_number", models.CharField(blank=True, max_length=60, verbose_name="part number")),
                ("note", models.CharField(blank=True, max_length=300)),
                ("done_at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("at", models.DateTimeField()),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("withdrawn_at", models.DateTimeField(null=True)),
                (
                    "fitted",
                    models.ForeignKey(
                        null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="fleet.component"
                    ),
                ),
            ],
            options={
                "verbose_name": "component replaced",
                "verbose_name_plural": "components replaced",
                "ordering": ["pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("withdrawn_at", None), ("withdrawn_by", None)),
                            models.Q(
                                ("fitted", None), ("withdrawn_at__isnull", False), ("withdrawn_by__isnull", False)
                            ),
                            _connector="OR",
                        ),
                        name="replacement_withdrawn_by_someone",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Result",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "step",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="results",
                        to="inspections.inspectionstep",
                    ),
                ),
                ("key", models.SlugField(db_index=False, max_length=60)),
                ("label", models.CharField(max_length=120)),
                ("value", models.FloatField(null=True)),
                ("std_uncertainty", models.FloatField(null=True)),
                ("expanded_uncertainty", models.FloatField(null=True)),
                ("coverage_factor", models.FloatField(null=True)),
                ("unit", models.CharField(max_length=20)),
                ("limit_lower", models.FloatField(null=True)),
                ("limit_upper", models.FloatField(null=True)),
                ("limit_rule", models.CharField(blank=True, max_length=60)),
                ("limit_source", models.CharField(blank=True, max_length=300)),
                ("limit_edition", models.CharField(blank=True, max_length=120)),
                (
                    "limit_confirmed",
                    models.BooleanField(
                        help_text="Whether somebody had confirmed the limit for the site; empty without a limit, and in older records.",
                        null=True,
                    ),
                ),
                (
                    "decision",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("pass", "Pass"),
                            ("conditional pass", "Conditional pass"),
                            ("conditional fail", "Conditional fail"),
                            ("fail", "Fail"),
                            ("not decided", "Not decided"),
                            ("not tested", "Not tested"),
                        ],
                        help_text="Empty for a value that is reported only.",
                        max_length=20,
                    ),
                ),
                ("margin", models.FloatField(null=True)),
                ("probability", models.FloatField(null=True)),
                ("convention", models.CharField(blank=True, max_length=300)),
                ("remark", models.CharField(blank=True, max_length=600)),
                ("content", models.JSONField(help_text="The whole result as it was computed.")),
            ],
            options={
                "db_table": "inspections_outcome",
                "ordering": ["step", "pk"],
                "constraints": [models.UniqueConstraint(fields=("step", "key"), name="outcome_once_per_step")],
            },
        ),
        migrations.CreateModel(
            name="ReviewWeights",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="review_weights", to="fleet.site"
                    ),
                ),
                ("hazards", models.JSONField()),
                ("burden", models.JSONField()),
                ("reason", models.CharField(max_length=300)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("at", models.DateTimeField()),
            ],
            options={
                "verbose_name_plural": "review weights",
                "ordering": ["-at", "-pk"],
                "permissions": [("weigh_review", "Can set the weights of the retirement review")],
            },
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
                    "entered_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("entered_at", models.DateTimeField()),
                ("looked_at", models.DateTimeField(editable=False, null=True)),
                ("looked_machines", models.PositiveIntegerField(default=0, editable=False)),
                ("looked_components", models.PositiveIntegerField(default=0, editable=False)),
                ("looked_instruments", models.PositiveIntegerField(default=0, editable=False)),
                ("looked_inspections", models.PositiveIntegerField(default=0, editable=False)),
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
                ("closed_at", models.DateTimeField(blank=True, editable=False, null=True)),
                ("closing_note", models.TextField(blank=True)),
            ],
            options={
                "verbose_name": "safety notice",
                "ordering": ["-received_on", "-pk"],
                "constraints": [
                    models.UniqueConstraint(fields=("published_by", "reference"), name="notice_once"),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("closed_at__isnull", True), models.Q(("closing_note", ""), _negated=True), _connector="OR"
                        ),
                        name="notice_closed_with_note",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Attachment",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "machine",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="attachments",
                        to="fleet.machine",
                    ),
                ),
                (
                    "component",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="attachments",
                        to="fleet.component",
                    ),
                ),
                (
                    "calibration",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="attachments",
                        to="fleet.calibration",
                    ),
                ),
                (
                    "finding",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="attachments",
                        to="inspections.finding",
                    ),
                ),
                (
                    "inspection",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="attachments",
                        to="inspections.inspection",
                    ),
                ),
                (
                    "notice",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="attachments",
                        to="inspections.safetynotice",
                    ),
                ),
                (
                    "version",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="attachments",
                        to="inspections.procedureversion",
                    ),
                ),
                ("title", models.CharField(help_text="What the file shows.", max_length=120)),
                (
                    "name",
                    models.CharField(blank=True, help_text="As it was sent.", max_length=120, verbose_name="file name"),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("pdf", "PDF"),
                            ("jpeg", "photograph"),
                            ("csv", "table (CSV)"),
                            ("text", "plain text"),
                            ("xlsx", "workbook (XLSX)"),
                        ],
                        max_length=10,
                    ),
                ),
                ("content", models.BinaryField(null=True)),
                ("digest", models.CharField(help_text="SHA-256 of the content, in hexadecimal.", max_length=64)),
                ("received_digest", models.CharField(max_length=64)),
                ("octets", models.PositiveIntegerField(verbose_name="bytes")),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("at", models.DateTimeField()),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_reason", models.CharField(blank=True, max_length=300)),
                (
                    "removed_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("removed_at", models.DateTimeField(blank=True, null=True)),
                ("removed_reason", models.CharField(blank=True, max_length=300)),
            ],
            options={
                "verbose_name": "attached file",
                "ordering": ["pk"],
                "permissions": [("remove_attachment", "Can remove the content of attached files")],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("calibration__isnull", True),
                                ("component__isnull", True),
                                ("finding__isnull", True),
                                ("inspection__isnull", True),
                                ("machine__isnull", False),
                                ("notice__isnull", True),
                                ("version__isnull", True),
                            ),
                            models.Q(
                                ("calibration__isnull", True),
                                ("component__isnull", False),
                                ("finding__isnull", True),
                                ("inspection__isnull", True),
                                ("machine__isnull", True),
                                ("notice__isnull", True),
                                ("version__isnull", True),
                            ),
                            models.Q(
                                ("calibration__isnull", False),
                                ("component__isnull", True),
                                ("finding__isnull", True),
                                ("inspection__isnull", True),
                                ("machine__isnull", True),
                                ("notice__isnull", True),
                                ("version__isnull", True),
                            ),
                            models.Q(
                                ("calibration__isnull", True),
                                ("component__isnull", True),
                                ("finding__isnull", False),
                                ("inspection__isnull", True),
                                ("machine__isnull", True),
                                ("notice__isnull", True),
                                ("version__isnull", True),
                            ),
                            models.Q(
                                ("calibration__isnull", True),
                                ("component__isnull", True),
                                ("finding__isnull", True),
                                ("inspection__isnull", False),
                                ("machine__isnull", True),
                                ("notice__isnull", True),
                                ("version__isnull", True),
                            ),
                            models.Q(
                                ("calibration__isnull", True),
                                ("component__isnull", True),
                                ("finding__isnull", True),
                                ("inspection__isnull", True),
                                ("machine__isnull", True),
                                ("notice__isnull", False),
                                ("version__isnull", True),
                            ),
                            models.Q(
                                ("calibration__isnull", True),
                                ("component__isnull", True),
                                ("finding__isnull", True),
                                ("inspection__isnull", True),
                                ("machine__isnull", True),
                                ("notice__isnull", True),
                                ("version__isnull", False),
                            ),
                            _connector="OR",
                        ),
                        name="attachment_of_one_thing",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("content__isnull", False), ("removed_at", None)),
                            models.Q(
                                ("content", None),
                                ("removed_at__isnull", False),
                                ("removed_by__isnull", False),
                                models.Q(("removed_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="attachment_until_removed",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("withdrawn_at", None),
                            models.Q(
                                ("withdrawn_at__isnull", False),
                                ("withdrawn_by__isnull", False),
                                models.Q(("withdrawn_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="attachment_withdrawn_with_reason",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("withdrawn_at", None)),
                        fields=("machine", "digest"),
                        name="attachment_once_per_machine",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("withdrawn_at", None)),
                        fields=("component", "digest"),
                        name="attachment_once_per_component",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("withdrawn_at", None)),
                        fields=("calibration", "digest"),
                        name="attachment_once_per_calibration",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("withdrawn_at", None)),
                        fields=("finding", "digest"),
                        name="attachment_once_per_finding",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("withdrawn_at", None)),
                        fields=("inspection", "digest"),
                        name="attachment_once_per_inspection",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("withdrawn_at", None)),
                        fields=("notice", "digest"),
                        name="attachment_once_per_notice",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("withdrawn_at", None)),
                        fields=("version", "digest"),
                        name="attachment_once_per_version",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="DecommissioningAnswer",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "machine",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="decommissioning_answers",
                        to="fleet.machine",
                    ),
                ),
                ("code", models.SlugField(db_index=False, max_length=40, verbose_name="item")),
                (
                    "state",
                    models.CharField(
                        choices=[("done", "Done"), ("does not apply", "Does not apply")],
                        max_length=20,
                        verbose_name="answer",
                    ),
                ),
                ("route", models.SlugField(blank=True, db_index=False, max_length=20)),
                ("words", models.CharField(blank=True, max_length=600, verbose_name="remark")),
                (
                    "proof",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="proves",
                        to="inspections.attachment",
                    ),
                ),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("at", models.DateTimeField()),
            ],
            options={
                "verbose_name": "item of the decommissioning",
                "ordering": ["machine", "pk"],
                "constraints": [
                    models.UniqueConstraint(fields=("machine", "code"), name="decommissioning_item_once"),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "does not apply"), _negated=True),
                            models.Q(("words", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="decommissioning_not_applicable_because",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="NoticeItem",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "notice",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="items", to="inspections.safetynotice"
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
                            ("not named", "No longer concerned"),
                        ],
                        default="open",
                        editable=False,
                        max_length=14,
                    ),
                ),
                ("words", models.TextField(blank=True, verbose_name="what was done or found, or where it went")),
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
                ("settled_at", models.DateTimeField(blank=True, null=True)),
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
                    "planned",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="inspections.inspection",
                    ),
                ),
            ],
            options={
                "verbose_name": "item of a notice",
                "verbose_name_plural": "items of notices",
                "ordering": ["pk"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("component", None), ("inspection", None)),
                        fields=("notice", "machine"),
                        name="notice_item_once_per_machine",
                    ),
                    models.UniqueConstraint(fields=("notice", "component"), name="notice_item_once_per_component"),
                    models.UniqueConstraint(fields=("notice", "instrument"), name="notice_item_once_per_instrument"),
                    models.UniqueConstraint(fields=("notice", "inspection"), name="notice_item_once_per_inspection"),
                    models.CheckConstraint(
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
                    models.CheckConstraint(
                        condition=models.Q(
                            ("state", "open"),
                            models.Q(("settled_at__isnull", False), models.Q(("words", ""), _negated=True)),
                            _connector="OR",
                        ),
                        name="notice_item_settled_with_words",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="NoticeCriterion",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "notice",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="criteria",
                        to="inspections.safetynotice",
                    ),
                ),
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
                (
                    "added_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("added_at", models.DateTimeField()),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("withdrawn_at", models.DateTimeField(editable=False, null=True)),
                (
                    "withdrawn_reason",
                    models.CharField(
                        blank=True, editable=False, max_length=300, verbose_name="reason for the withdrawal"
                    ),
                ),
            ],
            options={
                "verbose_name": "criterion",
                "verbose_name_plural": "criteria",
                "ordering": ["pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("withdrawn_at", None), ("withdrawn_reason", "")),
                            models.Q(
                                ("withdrawn_at__isnull", False), models.Q(("withdrawn_reason", ""), _negated=True)
                            ),
                            _connector="OR",
                        ),
                        name="criterion_withdrawn_with_reason",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("built_from__isnull", True),
                            ("built_to__isnull", True),
                            ("built_to__gte", models.F("built_from")),
                            _connector="OR",
                        ),
                        name="criterion_years_in_order",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="SeriousIncident",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "machine",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="incidents", to="fleet.machine"
                    ),
                ),
                ("jurisdiction", models.SlugField(blank=True, db_index=False, max_length=20)),
                ("content", models.TextField(editable=False)),
                ("digest", models.CharField(editable=False, max_length=64)),
                (
                    "opened_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("opened_at", models.DateTimeField()),
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
                ("closed_at", models.DateTimeField(blank=True, null=True)),
                ("closing_reason", models.TextField(blank=True)),
            ],
            options={
                "verbose_name": "serious incident",
                "ordering": ["-opened_at", "-pk"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("closed_at", None)), fields=("machine",), name="incident_once_open"
                    ),
                    models.CheckConstraint(
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
                ],
            },
        ),
        migrations.CreateModel(
            name="IncidentNote",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "incident",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="notes",
                        to="inspections.seriousincident",
                    ),
                ),
                ("text", models.TextField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("at", models.DateTimeField()),
            ],
            options={
                "verbose_name": "note",
                "ordering": ["at", "pk"],
            },
        ),
        migrations.CreateModel(
            name="SignedRecord",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "inspection",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="record", to="inspections.inspection"
                    ),
                ),
                ("content", models.TextField()),
                ("digest", models.CharField(help_text="SHA-256 of the content.", max_length=64)),
                ("signed_at", models.DateTimeField()),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="StepRemark",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "step",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="remark",
                        to="inspections.inspectionstep",
                    ),
                ),
                ("text", models.TextField(blank=True, max_length=1000, verbose_name="remark")),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("at", models.DateTimeField()),
            ],
            options={
                "verbose_name": "remark on step",
                "verbose_name_plural": "remarks on steps",
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="TrendForecast",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "machine",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="trend_forecasts", to="fleet.machine"
                    ),
                ),
                ("test_code", models.SlugField(db_index=False, max_length=40)),
                ("subject", models.CharField(blank=True, max_length=80)),
                ("key", models.SlugField(db_index=False, max_length=60)),
                (
                    "latest",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="+", to="inspections.result"
                    ),
                ),
                ("results", models.PositiveSmallIntegerField(help_text="Signed results since the last repair.")),
                ("due_on", models.DateField()),
                ("value", models.FloatField()),
                ("lower", models.FloatField()),
                ("upper", models.FloatField()),
                ("slope", models.FloatField()),
                ("slope_lower", models.FloatField()),
                ("slope_upper", models.FloatField()),
                ("chance", models.FloatField(null=True)),
                ("chance_without_measuring", models.FloatField(null=True)),
                ("beyond_on", models.DateField(null=True)),
                (
                    "advice",
                    models.CharField(
                        choices=[
                            ("nothing", "Nothing to do"),
                            ("come earlier", "Come earlier"),
                            ("measure better", "Measure better"),
                        ],
                        default="nothing",
                        max_length=20,
                    ),
                ),
                ("drift_share", models.FloatField()),
                ("machine_share", models.FloatField()),
                ("measured_share", models.FloatField()),
                ("terms", models.JSONField()),
                ("made_at", models.DateTimeField()),
            ],
            options={
                "ordering": ["machine", "pk"],
                "indexes": [models.Index(fields=["advice"], name="trend_by_advice")],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("machine", "test_code", "subject", "key"), name="trend_once_per_result"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("chance", None), models.Q(("chance__gte", 0), ("chance__lte", 1)), _connector="OR"
                        ),
                        name="trend_chance_is_one",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="UserCheck",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "machine",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="user_checks", to="fleet.machine"
                    ),
                ),
                (
                    "label",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="inspections.machinelabel",
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[("daily", "Daily check"), ("first-user", "First-user check after service")],
                        max_length=10,
                    ),
                ),
                ("by_name", models.CharField(max_length=120, verbose_name="name")),
                ("check_list", models.CharField(max_length=120)),
                (
                    "result",
                    models.CharField(
                        choices=[("done", "Done, no problem found"), ("problem", "Problem found")], max_length=10
                    ),
                ),
                ("note", models.TextField(blank=True, max_length=2000)),
                ("key", models.CharField(editable=False, max_length=64, unique=True)),
                ("at", models.DateTimeField()),
            ],
            options={
                "verbose_name": "user check",
                "ordering": ["-at", "-pk"],
                "indexes": [models.Index(fields=["machine", "kind", "at"], name="user_check_by_machine")],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("by_name", ""), _negated=True), models.Q(("check_list", ""), _negated=True)
                        ),
                        name="user_check_names_person_and_list",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="WorkingHours",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="working_hours",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "weekday",
                    models.PositiveSmallIntegerField(
                        choices=[
                            (0, "Monday"),
                            (1, "Tuesday"),
                            (2, "Wednesday"),
                            (3, "Thursday"),
                            (4, "Friday"),
                            (5, "Saturday"),
                            (6, "Sunday"),
                        ]
                    ),
                ),
                (
                    "minutes",
                    models.PositiveSmallIntegerField(
                        default=0, validators=[django.core.validators.MaxValueValidator(1440)]
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "working hours",
                "ordering": ["person", "weekday"],
                "constraints": [
                    models.UniqueConstraint(fields=("person", "weekday"), name="working_hours_once_per_weekday"),
                    models.CheckConstraint(condition=models.Q(("weekday__lte", 6)), name="working_hours_on_a_weekday"),
                    models.CheckConstraint(
                        condition=models.Q(("minutes__lte", 1440)), name="working_hours_within_a_day"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="YearPlan",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="year_plans",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("made_at", models.DateTimeField()),
                ("first_day", models.DateField()),
                ("last_day", models.DateField()),
                ("gap", models.FloatField(help_text="The share by which it may be worse than the best plan, 0 to 1.")),
                ("is_exact", models.BooleanField(default=False)),
                ("seconds", models.FloatField(default=0)),
                (
                    "state",
                    models.CharField(
                        choices=[("proposed", "Proposed"), ("accepted", "Accepted"), ("replaced", "Replaced")],
                        default="proposed",
                        max_length=10,
                    ),
                ),
                ("settled_at", models.DateTimeField(null=True)),
            ],
            options={
                "ordering": ["-made_at", "-pk"],
            },
        ),
        migrations.CreateModel(
            name="ProposedDay",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "plan",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="proposed_days",
                        to="inspections.yearplan",
                    ),
                ),
                (
                    "inspection",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="+", to="inspections.inspection"
                    ),
                ),
                (
                    "technician",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("day", models.DateField(null=True)),
                ("minutes", models.PositiveSmallIntegerField()),
                (
                    "binding",
                    models.CharField(blank=True, help_text="The rule that leaves it without a day.", max_length=40),
                ),
                ("reason", models.CharField(blank=True, max_length=500)),
                ("remedy", models.CharField(blank=True, max_length=300)),
            ],
            options={
                "ordering": ["day", "pk"],
                "constraints": [
                    models.UniqueConstraint(fields=("plan", "inspection"), name="proposed_day_once_per_plan"),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("binding", ""), ("day__isnull", False), ("technician__isnull", False)),
                            models.Q(
                                ("day__isnull", True),
                                ("technician__isnull", True),
                                models.Q(("binding", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="proposed_day_or_reason",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="AreaClosing",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "area",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="closings", to="fleet.area"
                    ),
                ),
                (
                    "weekday",
                    models.PositiveSmallIntegerField(
                        blank=True,
                        choices=[
                            (0, "Monday"),
                            (1, "Tuesday"),
                            (2, "Wednesday"),
                            (3, "Thursday"),
                            (4, "Friday"),
                            (5, "Saturday"),
                            (6, "Sunday"),
                        ],
                        null=True,
                    ),
                ),
                ("first_day", models.DateField(blank=True, null=True)),
                ("last_day", models.DateField(blank=True, null=True)),
                ("reason", models.CharField(max_length=120)),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("at", models.DateTimeField()),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("withdrawn_at", models.DateTimeField(null=True)),
            ],
            options={
                "ordering": ["area", "weekday", "first_day", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("first_day__isnull", True), ("last_day__isnull", True), ("weekday__lte", 6)),
                            models.Q(
                                ("first_day__isnull", False),
                                ("last_day__gte", models.F("first_day")),
                                ("weekday__isnull", True),
                            ),
                            _connector="OR",
                        ),
                        name="area_closing_weekday_or_days",
                    )
                ],
            },
        ),
        migrations.AddField(
            model_name="inspection",
            name="retests",
            field=models.ManyToManyField(
                blank=True,
                help_text="Findings that this inspection retests.",
                related_name="retested_by",
                to="inspections.finding",
            ),
        ),
        migrations.AddField(
            model_name="finding",
            name="step",
            field=models.ForeignKey(
                blank=True,
                help_text="The essential step that proved nothing, for a finding from an incomplete inspection.",
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="inspections.inspectionstep",
            ),
        ),
        migrations.AddField(
            model_name="finding",
            name="result",
            field=models.ForeignKey(
                blank=True,
                db_column="outcome_id",
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="findings",
                to="inspections.result",
            ),
        ),
        migrations.AddConstraint(
            model_name="finding",
            constraint=models.UniqueConstraint(fields=("result",), name="finding_once_per_outcome"),
        ),
        migrations.AddConstraint(
            model_name="finding",
            constraint=models.UniqueConstraint(fields=("step",), name="finding_once_per_untested_step"),
        ),
        migrations.AddConstraint(
            model_name="finding",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("origin", "not tested"), _negated=True), ("step__isnull", False), _connector="OR"
                ),
                name="finding_not_tested_has_step",
            ),
        ),
    ]
