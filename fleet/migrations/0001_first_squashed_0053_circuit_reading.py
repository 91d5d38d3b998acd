"""Every table of the register as migrations 0001 to 0053 made it, for a database that has none.

The migrations that it replaces stay, for a store of an earlier version.
"""

import django.contrib.auth.validators
import django.core.validators
import django.db.models.deletion
import django.db.models.manager
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models

import fleet.catalogue.currencies
import fleet.catalogue.dimensions
import fleet.catalogue.oxygen_supply
import fleet.catalogue.rule_sets
import fleet.models.alterations
import fleet.models.circuit_covers
import fleet.models.components
import fleet.models.features
import fleet.models.jobs
import fleet.models.money
import fleet.models.places

# How each database orders what has no date: SQLite before every date, PostgreSQL after. So the model cannot declare it.
LATEST_FIRST = {"sqlite": "DESC", "postgresql": "DESC NULLS LAST"}


def add_due_last(apps, schema_editor):
    """Let the machines with the latest due date first, and those without one last, be read from an index."""
    order = LATEST_FIRST.get(schema_editor.connection.vendor)
    if order:
        schema_editor.execute(
            'CREATE INDEX "current_by_due_last" ON "fleet_currentstate" '
            f'("next_due_on" {order}, "asset_number", "status", "site_id")'
        )


def remove_due_last(apps, schema_editor):
    schema_editor.execute('DROP INDEX IF EXISTS "current_by_due_last"')


class Migration(migrations.Migration):
    replaces = [
        ("fleet", "0001_first"),
        ("fleet", "0002_model_lacks"),
        ("fleet", "0003_register_upload"),
        ("fleet", "0004_feature_state_by_machine"),
        ("fleet", "0005_no_index_on_short_codes"),
        ("fleet", "0006_api_token"),
        ("fleet", "0007_change_entry"),
        ("fleet", "0008_job"),
        ("fleet", "0009_digest"),
        ("fleet", "0010_manage_people"),
        ("fleet", "0011_upload_reading"),
        ("fleet", "0012_earlier_inspection"),
        ("fleet", "0013_circuit"),
        ("fleet", "0014_component_codes"),
        ("fleet", "0015_component_code_once"),
        ("fleet", "0016_circuit_cover"),
        ("fleet", "0017_closable_causes"),
        ("fleet", "0018_second_person"),
        ("fleet", "0019_token_confirmation"),
        ("fleet", "0020_forget_what_was_sent"),
        ("fleet", "0021_heartbeat"),
        ("fleet", "0022_staged_machine"),
        ("fleet", "0023_person_closed"),
        ("fleet", "0024_scale_dimension_from_the_table"),
        ("fleet", "0025_journal"),
        ("fleet", "0026_no_index_on_open_hazards"),
        ("fleet", "0027_words_of_the_trade"),
        ("fleet", "0028_site_place_format"),
        ("fleet", "0029_one_name_for_one_thing"),
        ("fleet", "0030_site_rule_set"),
        ("fleet", "0031_passkeys"),
        ("fleet", "0032_two_after_repair"),
        ("fleet", "0033_label_page"),
        ("fleet", "0034_site_oxygen"),
        ("fleet", "0035_calibration_points"),
        ("fleet", "0036_money"),
        ("fleet", "0037_site_holidays"),
        ("fleet", "0038_value_meaning"),
        ("fleet", "0039_waiting_rows"),
        ("fleet", "0040_first_day"),
        ("fleet", "0041_area_periods"),
        ("fleet", "0042_fill_area_periods"),
        ("fleet", "0043_away_periods"),
        ("fleet", "0044_alterations"),
        ("fleet", "0045_vapour_free_use"),
        ("fleet", "0046_software_and_instruction"),
        ("fleet", "0047_current_states"),
        ("fleet", "0048_current_by_due_last"),
        ("fleet", "0049_lists_by_index"),
        ("fleet", "0050_current_by_gaps"),
        ("fleet", "0053_circuit_reading"),
    ]

    initial = True

    dependencies = [
        ("auth", "0012_alter_user_first_name_max_length"),
    ]

    operations = [
        migrations.CreateModel(
            name="CircuitCover",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("digest", models.CharField(max_length=64, unique=True)),
                ("title", models.CharField(max_length=200)),
                ("components", models.PositiveSmallIntegerField(db_column="parts")),
                ("causes", models.PositiveSmallIntegerField()),
                ("unsolved", models.PositiveSmallIntegerField(default=0)),
                ("table", models.JSONField()),
                ("shown", models.JSONField(default=dict)),
                ("closing", models.JSONField(default=dict)),
                ("rules", models.CharField(max_length=64)),
                ("software", models.CharField(max_length=40)),
                ("computed_at", models.DateTimeField()),
                ("seconds", models.FloatField(help_text="Duration of the computation, s.")),
            ],
            options={
                "ordering": ["title", "pk"],
                "permissions": [("compute_circuitcover", "Can compute the cover of gas circuits")],
            },
        ),
        migrations.CreateModel(
            name="CircuitReading",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("sequence", models.PositiveIntegerField()),
                ("day", models.DateField()),
                ("rules", models.CharField(max_length=64)),
                ("read_at", models.DateTimeField()),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="CurrentStateRules",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("rules", models.CharField(max_length=16)),
                ("filled_at", models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name="Heartbeat",
            fields=[
                ("name", models.SlugField(db_index=False, max_length=20, primary_key=True, serialize=False)),
                ("at", models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name="JournalHead",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("sequence", models.PositiveIntegerField(default=0)),
                ("digest", models.CharField(max_length=64)),
                ("recorded_at", models.DateTimeField(null=True)),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="JournalLink",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "sequence",
                    models.PositiveIntegerField(help_text="Consecutive number of the link, from 1.", unique=True),
                ),
                ("batch", models.BigIntegerField(help_text="Identifies the entries of this link.", unique=True)),
                ("content", models.TextField()),
                (
                    "previous",
                    models.CharField(help_text="Digest of the previous link; zeros for the first.", max_length=64),
                ),
                ("digest", models.CharField(help_text="SHA-256 of the content.", max_length=64)),
                ("recorded_at", models.DateTimeField(help_text="Time of the server's clock.")),
            ],
            options={
                "ordering": ["sequence"],
            },
        ),
        migrations.CreateModel(
            name="Site",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("code", models.SlugField(max_length=20, unique=True)),
                ("name", models.CharField(max_length=100, unique=True)),
                (
                    "altitude_m",
                    models.SmallIntegerField(
                        default=0,
                        help_text="Metres above sea level, -430 to 5,500.",
                        validators=[
                            django.core.validators.MinValueValidator(-430),
                            django.core.validators.MaxValueValidator(5500),
                        ],
                        verbose_name="altitude (m)",
                    ),
                ),
                (
                    "oxygen_grade",
                    models.CharField(
                        choices=[
                            (
                                fleet.catalogue.oxygen_supply.OxygenGrade["OXYGEN"],
                                "Oxygen, 99.5 % or more, from cylinders or liquid",
                            ),
                            (
                                fleet.catalogue.oxygen_supply.OxygenGrade["OXYGEN_93"],
                                "Oxygen 93, 90 to 96 %, from concentrators",
                            ),
                        ],
                        default=fleet.catalogue.oxygen_supply.OxygenGrade["OXYGEN"],
                        help_text="What the pipeline and cylinders hold. Oxygen analysers and mixtures are judged by it.",
                        max_length=20,
                        verbose_name="oxygen supply",
                    ),
                ),
                (
                    "oxygen_percent",
                    models.FloatField(
                        blank=True,
                        help_text="As measured behind the plant. Empty: anywhere within the grade.",
                        null=True,
                        verbose_name="oxygen of the supply (% by volume)",
                    ),
                ),
                (
                    "time_zone",
                    models.CharField(default="UTC", max_length=60, validators=[fleet.models.places.validate_time_zone]),
                ),
                (
                    "decimal_sign",
                    models.CharField(
                        choices=[(".", "Point, 3.1"), (",", "Comma, 3,1")],
                        default=".",
                        help_text="As pages and paper show numbers. Both are accepted when typing.",
                        max_length=1,
                    ),
                ),
                (
                    "date_format",
                    models.CharField(
                        choices=[
                            ("D MMM YYYY", "2 Nov 2026"),
                            ("DD/MM/YYYY", "02/11/2026"),
                            ("DD.MM.YYYY", "02.11.2026"),
                            ("MM/DD/YYYY", "11/02/2026"),
                            ("MMM D, YYYY", "Nov 2, 2026"),
                            ("YYYY-MM-DD", "2026-11-02"),
                        ],
                        default="D MMM YYYY",
                        max_length=20,
                    ),
                ),
                (
                    "paper_size",
                    models.CharField(
                        choices=[("A4", "A4, 210 × 297 mm"), ("Letter", "Letter, 8.5 × 11 in")],
                        default="A4",
                        max_length=10,
                    ),
                ),
                (
                    "preferred_units",
                    models.JSONField(
                        blank=True,
                        default=dict,
                        help_text="By dimension, the unit in which pages and paper show results.",
                        validators=[fleet.models.places.validate_preferred_units],
                    ),
                ),
                (
                    "rule_set",
                    models.CharField(
                        blank=True,
                        choices=[
                            (fleet.catalogue.rule_sets.RuleSet["INTERNATIONAL"], "International"),
                            (fleet.catalogue.rule_sets.RuleSet["EUROPEAN"], "European"),
                            (fleet.catalogue.rule_sets.RuleSet["US"], "United States"),
                            (
                                fleet.catalogue.rule_sets.RuleSet["OWN"],
                                "Own: only limits set for the site, for a model, or by a procedure itself",
                            ),
                        ],
                        default="",
                        help_text="The published rules by which results are judged here. No rule outside the set is applied. Until one is chosen, the strictest of all sets counts.",
                        max_length=20,
                        verbose_name="set of rules",
                    ),
                ),
                (
                    "two_for_release",
                    models.BooleanField(
                        default=False,
                        help_text="One person proposes it, another person confirms it with their own password.",
                        verbose_name="second person for every release",
                    ),
                ),
                (
                    "two_for_amendment",
                    models.BooleanField(
                        default=False, verbose_name="second person for every amendment of a signed record"
                    ),
                ),
                (
                    "two_for_finding",
                    models.BooleanField(
                        default=False, verbose_name="second person for closing every essential finding"
                    ),
                ),
                (
                    "two_for_limit",
                    models.BooleanField(default=False, verbose_name="second person for every change of a limit"),
                ),
                (
                    "signer_may_release",
                    models.BooleanField(
                        default=False,
                        help_text="Also after an essential failure. Unless this is ticked, a person who did not sign the retest decides.",
                        verbose_name="the person who signed the retest may release alone",
                    ),
                ),
                (
                    "has_label_page",
                    models.BooleanField(
                        default=False,
                        help_text="Whoever scans a label sees without a login whether the machine may be used, and can report a fault or record a check. Unless this is ticked, the code leads to the login.",
                        verbose_name="the code on a label opens a public page",
                    ),
                ),
                (
                    "fault_phone",
                    models.CharField(
                        blank=True,
                        help_text="Shown on the public page and on DO NOT USE tags, such as “ext. 4417, at night 4400”.",
                        max_length=80,
                        verbose_name="phone of the biomedical department",
                    ),
                ),
                (
                    "check_list",
                    models.CharField(
                        blank=True,
                        help_text="The title that a recorded check names. Empty: the manufacturer's daily check list.",
                        max_length=120,
                        verbose_name="check list of the daily check",
                    ),
                ),
                (
                    "two_after_repair",
                    models.BooleanField(
                        default=False,
                        help_text="Whoever signed or entered readings of the retest, or fitted a component since the withdrawal, proposes the release; a person who did none of this confirms it.",
                        verbose_name="a person who did not do the repair must decide about a release",
                    ),
                ),
                (
                    "holiday_country",
                    models.CharField(
                        blank=True,
                        help_text="Its public holidays are free days of the site. Local ones are entered as free days.",
                        max_length=2,
                        validators=[fleet.models.places.validate_holiday_country],
                        verbose_name="country of the public holidays",
                    ),
                ),
                (
                    "holiday_subdivision",
                    models.CharField(
                        blank=True,
                        help_text="The code of a state, province or region that has holidays of its own, such as BY. Empty: those of the whole country.",
                        max_length=20,
                        verbose_name="state or region of the public holidays",
                    ),
                ),
                (
                    "needs_competence",
                    models.BooleanField(
                        default=False,
                        help_text="A technician needs a confirmed competence for the machine model or its manufacturer, valid on the day.",
                        verbose_name="only competent people are booked and sign",
                    ),
                ),
            ],
            options={
                "ordering": ["name"],
            },
        ),
        migrations.CreateModel(
            name="Area",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="areas", to="fleet.site"
                    ),
                ),
                ("name", models.CharField(max_length=100)),
                (
                    "minimum_machines",
                    models.PositiveSmallIntegerField(
                        default=0, help_text="The minimum number of machines in service in this area."
                    ),
                ),
            ],
            options={
                "ordering": ["site__name", "name"],
                "constraints": [models.UniqueConstraint(fields=("site", "name"), name="area_name_once_per_site")],
            },
        ),
        migrations.CreateModel(
            name="Instrument",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("code", models.CharField(max_length=30, unique=True)),
                ("name", models.CharField(max_length=100)),
                ("serial", models.CharField(blank=True, max_length=60)),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="instruments", to="fleet.site"
                    ),
                ),
                ("is_retired", models.BooleanField(default=False)),
                (
                    "applies_corrections",
                    models.BooleanField(
                        default=False,
                        help_text="Readings are corrected by the as-left points of the calibration that is current on their day.",
                        verbose_name="correct readings by the certificate",
                    ),
                ),
                (
                    "interval_months",
                    models.PositiveSmallIntegerField(
                        blank=True,
                        help_text="As somebody decided; empty if nobody did.",
                        null=True,
                        verbose_name="calibration interval, months",
                    ),
                ),
                (
                    "longest_interval_months",
                    models.PositiveSmallIntegerField(
                        blank=True,
                        help_text="Never exceeded, whatever the results say: the manufacturer's or the site's own rule.",
                        null=True,
                        verbose_name="longest interval, months",
                    ),
                ),
            ],
            options={
                "ordering": ["code"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("interval_months", None),
                            ("longest_interval_months", None),
                            ("interval_months__lte", models.F("longest_interval_months")),
                            _connector="OR",
                        ),
                        name="interval_within_the_longest",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Person",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("password", models.CharField(max_length=128, verbose_name="password")),
                ("last_login", models.DateTimeField(blank=True, null=True, verbose_name="last login")),
                (
                    "is_superuser",
                    models.BooleanField(
                        default=False,
                        help_text="Designates that this user has all permissions without explicitly assigning them.",
                        verbose_name="superuser status",
                    ),
                ),
                (
                    "username",
                    models.CharField(
                        error_messages={"unique": "A user with that username already exists."},
                        help_text="Required. 150 characters or fewer. Letters, digits and @/./+/-/_ only.",
                        max_length=150,
                        unique=True,
                        validators=[django.contrib.auth.validators.UnicodeUsernameValidator()],
                        verbose_name="username",
                    ),
                ),
                ("first_name", models.CharField(blank=True, max_length=150, verbose_name="first name")),
                ("last_name", models.CharField(blank=True, max_length=150, verbose_name="last name")),
                ("email", models.EmailField(blank=True, max_length=254, verbose_name="email address")),
                (
                    "is_staff",
                    models.BooleanField(
                        default=False,
                        help_text="Designates whether the user can log into this admin site.",
                        verbose_name="staff status",
                    ),
                ),
                (
                    "is_active",
                    models.BooleanField(
                        default=True,
                        help_text="Designates whether this user should be treated as active. Unselect this instead of deleting accounts.",
                        verbose_name="active",
                    ),
                ),
                ("date_joined", models.DateTimeField(default=django.utils.timezone.now, verbose_name="date joined")),
                (
                    "wants_digest",
                    models.BooleanField(
                        default=True,
                        help_text="One plain email in the morning of each day with something to do.",
                        verbose_name="email me what to do",
                    ),
                ),
                (
                    "closed_at",
                    models.DateTimeField(
                        editable=False,
                        help_text="When the personal data were removed. The account is closed permanently.",
                        null=True,
                    ),
                ),
                (
                    "sessions_ended",
                    models.PositiveIntegerField(
                        default=0, editable=False, help_text="How many times all sessions of the account were ended."
                    ),
                ),
                (
                    "groups",
                    models.ManyToManyField(
                        blank=True,
                        help_text="The groups this user belongs to. A user will get all permissions granted to each of their groups.",
                        related_name="user_set",
                        related_query_name="user",
                        to="auth.group",
                        verbose_name="groups",
                    ),
                ),
                (
                    "user_permissions",
                    models.ManyToManyField(
                        blank=True,
                        help_text="Specific permissions for this user.",
                        related_name="user_set",
                        related_query_name="user",
                        to="auth.permission",
                        verbose_name="user permissions",
                    ),
                ),
                (
                    "sites",
                    models.ManyToManyField(
                        blank=True,
                        help_text="Limits the person to these sites; none means all sites.",
                        related_name="people",
                        to="fleet.site",
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "people",
                "ordering": ["last_name", "first_name", "username"],
                "permissions": [("manage_people", "Can manage accounts")],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("closed_at", None), ("is_active", False), _connector="OR"),
                        name="person_closed_is_locked",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="AlterationPlan",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "kind",
                    models.SlugField(
                        choices=fleet.models.alterations.alteration_choices,
                        db_index=False,
                        max_length=40,
                        verbose_name="alteration",
                    ),
                ),
                (
                    "agent",
                    models.SlugField(
                        blank=True, choices=fleet.models.alterations.agent_choices, db_index=False, max_length=20
                    ),
                ),
                ("title", models.CharField(max_length=120)),
                ("reason", models.TextField(max_length=2000)),
                ("from_date", models.DateField(verbose_name="from")),
                (
                    "minutes_each",
                    models.PositiveSmallIntegerField(blank=True, null=True, verbose_name="minutes for each machine"),
                ),
                (
                    "price_each",
                    models.DecimalField(
                        blank=True,
                        decimal_places=3,
                        max_digits=15,
                        null=True,
                        validators=[django.core.validators.MinValueValidator(0)],
                        verbose_name="price for each machine",
                    ),
                ),
                (
                    "currency",
                    models.CharField(blank=True, choices=fleet.catalogue.currencies.currency_choices, max_length=3),
                ),
                ("price_source", models.CharField(blank=True, max_length=200, verbose_name="source of the price")),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("at", models.DateTimeField()),
            ],
            options={
                "verbose_name": "planned alteration",
                "ordering": ["-at", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("price_each__isnull", True),
                            models.Q(
                                models.Q(("currency", ""), _negated=True), models.Q(("price_source", ""), _negated=True)
                            ),
                            _connector="OR",
                        ),
                        name="alteration_price_has_currency_and_source",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="AlterationEffect",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "plan",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="effects", to="fleet.alterationplan"
                    ),
                ),
                ("before", models.CharField(max_length=64)),
                ("after", models.CharField(blank=True, max_length=64)),
                ("title", models.CharField(max_length=200)),
                ("hazards", models.JSONField(default=dict)),
                ("closed", models.JSONField(default=list)),
                ("opened", models.JSONField(default=list)),
                ("fitted", models.JSONField(default=list)),
                ("removed", models.JSONField(default=list)),
                ("refusal", models.TextField(blank=True)),
                ("unknown", models.TextField(blank=True)),
                ("computed_at", models.DateTimeField()),
            ],
            options={
                "ordering": ["title", "pk"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("before", ""), _negated=True),
                        fields=("plan", "before", "after"),
                        name="alteration_effect_once",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="ApiToken",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "name",
                    models.CharField(
                        help_text="The program that uses it, such as “Stores system”.", max_length=80, unique=True
                    ),
                ),
                (
                    "owner",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="api_tokens",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "group",
                    models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="auth.group"),
                ),
                ("digest", models.CharField(blank=True, editable=False, max_length=64, null=True, unique=True)),
                ("start", models.CharField(blank=True, editable=False, max_length=16, verbose_name="first characters")),
                ("expires_on", models.DateField(help_text="The last day on which it is accepted.")),
                ("last_used_on", models.DateField(editable=False, null=True)),
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
                    "confirmed_at",
                    models.DateTimeField(
                        editable=False,
                        help_text="When the owner confirmed it; until then it is not accepted.",
                        null=True,
                    ),
                ),
                (
                    "predates_confirmation",
                    models.BooleanField(
                        default=False,
                        editable=False,
                        help_text="Issued before owners had to confirm tokens. It is accepted until its owner revokes it.",
                    ),
                ),
                (
                    "revoked_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("revoked_at", models.DateTimeField(null=True)),
            ],
            options={
                "ordering": ["name"],
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("name", ""), _negated=True), name="api_token_has_a_name")
                ],
            },
        ),
        migrations.CreateModel(
            name="ChangeEntry",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("record", models.CharField(max_length=40)),
                ("record_pk", models.BigIntegerField()),
                ("row", models.CharField(max_length=80)),
                ("row_pk", models.BigIntegerField()),
                ("about", models.CharField(blank=True, max_length=200)),
                (
                    "by",
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
                        db_index=False,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="fleet.apitoken",
                    ),
                ),
                ("at", models.DateTimeField()),
                ("before", models.JSONField(default=dict)),
                ("after", models.JSONField(default=dict)),
            ],
            options={
                "verbose_name_plural": "change entries",
                "ordering": ["-at", "-pk"],
                "indexes": [models.Index(fields=["record", "record_pk", "-at", "-id"], name="change_by_record")],
            },
        ),
        migrations.CreateModel(
            name="ColumnMapping",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("kind", models.SlugField(db_index=False, max_length=30)),
                ("digest", models.CharField(max_length=64)),
                ("columns", models.JSONField()),
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
                "ordering": ["kind", "pk"],
                "constraints": [models.UniqueConstraint(fields=("kind", "digest"), name="column_mapping_once")],
            },
        ),
        migrations.CreateModel(
            name="CoverHazard",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "cover",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="hazards", to="fleet.circuitcover"
                    ),
                ),
                (
                    "hazard",
                    models.SlugField(choices=fleet.models.circuit_covers.hazard_choices, db_index=False, max_length=40),
                ),
                ("open", models.PositiveSmallIntegerField()),
                ("likely", models.PositiveSmallIntegerField()),
                ("closable", models.PositiveSmallIntegerField(default=0)),
                ("told", models.PositiveSmallIntegerField(verbose_name="alarmed")),
                ("stopped", models.PositiveSmallIntegerField()),
                (
                    "worst",
                    models.CharField(blank=True, help_text="The most likely open cause, in words.", max_length=300),
                ),
                ("worst_likelihood", models.CharField(blank=True, max_length=20)),
            ],
            options={
                "ordering": ["cover", "pk"],
                "constraints": [models.UniqueConstraint(fields=("cover", "hazard"), name="cover_hazard_once")],
            },
        ),
        migrations.CreateModel(
            name="Digest",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="digests", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("on", models.DateField()),
                ("tells_month", models.BooleanField(default=False)),
                ("begun_at", models.DateTimeField()),
                ("sent_at", models.DateTimeField(null=True)),
            ],
            options={
                "ordering": ["-on", "-pk"],
                "constraints": [
                    models.UniqueConstraint(fields=("person", "on"), name="digest_once_a_day"),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("sent_at__isnull", True), ("sent_at__gte", models.F("begun_at")), _connector="OR"
                        ),
                        name="digest_sent_after_begun",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Calibration",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "instrument",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="calibrations", to="fleet.instrument"
                    ),
                ),
                ("calibrated_on", models.DateField()),
                ("due_on", models.DateField()),
                (
                    "result",
                    models.CharField(
                        choices=[
                            ("within", "Within specification"),
                            ("adjusted", "Adjusted to within"),
                            ("outside", "Outside specification"),
                        ],
                        default="within",
                        max_length=12,
                    ),
                ),
                ("certificate", models.CharField(max_length=80)),
                ("laboratory", models.CharField(blank=True, max_length=100)),
                ("note", models.CharField(blank=True, max_length=300)),
                (
                    "points",
                    models.JSONField(
                        blank=True,
                        default=list,
                        help_text="What the certificate states over each scale: reference values, readings and uncertainties.",
                    ),
                ),
            ],
            options={
                "ordering": ["-calibrated_on", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("due_on__gt", models.F("calibrated_on"))), name="calibration_in_order"
                    ),
                    models.UniqueConstraint(
                        fields=("instrument", "certificate"), name="certificate_once_per_instrument"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="InstrumentScale",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "instrument",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="scales", to="fleet.instrument"
                    ),
                ),
                ("dimension", models.CharField(choices=fleet.catalogue.dimensions.scale_dimensions, max_length=20)),
                ("unit", models.CharField(max_length=12)),
                ("low", models.FloatField()),
                ("high", models.FloatField()),
                ("resolution", models.FloatField()),
                ("of_reading_percent", models.FloatField(default=0, verbose_name="accuracy, % of reading")),
                ("of_span_percent", models.FloatField(default=0, verbose_name="accuracy, % of span")),
                ("absolute", models.FloatField(default=0, verbose_name="accuracy, fixed term")),
                ("coverage_factor", models.FloatField(default=2)),
            ],
            options={
                "ordering": ["instrument", "dimension", "high"],
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("high__gt", models.F("low"))), name="scale_has_a_span"),
                    models.CheckConstraint(condition=models.Q(("resolution__gt", 0)), name="scale_has_a_resolution"),
                ],
            },
        ),
        migrations.CreateModel(
            name="Job",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("kind", models.SlugField(db_index=False, max_length=40)),
                ("title", models.CharField(max_length=200)),
                ("params", models.JSONField(default=dict)),
                ("key", models.CharField(max_length=200)),
                ("due_on", models.DateField(help_text="The date of a job that starts automatically.", null=True)),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="jobs",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("asked_at", models.DateTimeField()),
                (
                    "stage",
                    models.CharField(
                        choices=[
                            ("waiting", "Waiting"),
                            ("running", "Running"),
                            ("done", "Done"),
                            ("failed", "Failed"),
                            ("cancelled", "Cancelled"),
                        ],
                        default="waiting",
                        max_length=10,
                    ),
                ),
                ("attempt", models.PositiveSmallIntegerField(default=0)),
                ("started_at", models.DateTimeField(null=True)),
                (
                    "heartbeat_at",
                    models.DateTimeField(
                        help_text="The last heartbeat of the process that runs it, or the time when it was queued again.",
                        null=True,
                    ),
                ),
                ("finished_at", models.DateTimeField(null=True)),
                ("cancel_asked_at", models.DateTimeField(null=True)),
                (
                    "cancel_asked_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("done", models.PositiveIntegerField(default=0)),
                ("total", models.PositiveIntegerField(default=0, help_text="0 while the total is not known.")),
                ("words", models.CharField(blank=True, help_text="The present step.", max_length=200)),
                (
                    "result",
                    models.CharField(
                        blank=True, db_column="outcome", help_text="The result, in words.", max_length=500
                    ),
                ),
                ("link", models.CharField(blank=True, help_text="The address of the result.", max_length=300)),
                (
                    "file",
                    models.FileField(blank=True, max_length=200, storage=fleet.models.jobs.job_files, upload_to=""),
                ),
                (
                    "file_name",
                    models.CharField(blank=True, help_text="The name of the file for download.", max_length=120),
                ),
                ("error", models.TextField(blank=True, help_text="The fault, in plain words.")),
            ],
            options={
                "ordering": ["-asked_at", "-pk"],
                "indexes": [
                    models.Index(fields=["stage", "asked_at"], name="job_by_stage"),
                    models.Index(fields=["by", "asked_at"], name="job_by_person"),
                ],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("stage__in", ("waiting", "running"))),
                        fields=("key",),
                        name="job_key_once_while_open",
                    ),
                    models.UniqueConstraint(fields=("kind", "due_on"), name="job_once_per_day_due"),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("finished_at__isnull", True), ("stage__in", ("waiting", "running"))),
                            models.Q(
                                models.Q(("stage__in", ("waiting", "running")), _negated=True),
                                ("finished_at__isnull", False),
                            ),
                            _connector="OR",
                        ),
                        name="job_closed_has_time",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="JournalEntry",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("batch", models.BigIntegerField()),
                ("position", models.PositiveIntegerField()),
                ("table", models.CharField(max_length=60)),
                ("row", models.BigIntegerField()),
                ("layout", models.CharField(max_length=12)),
                ("state", models.TextField(blank=True)),
            ],
            options={
                "verbose_name_plural": "journal entries",
                "ordering": ["pk"],
                "indexes": [models.Index(fields=["table", "row", "id"], name="journal_by_row")],
                "constraints": [models.UniqueConstraint(fields=("batch", "position"), name="journal_entry_once")],
            },
        ),
        migrations.CreateModel(
            name="MachineModel",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("code", models.SlugField(max_length=40, unique=True)),
                ("manufacturer", models.CharField(db_column="maker", max_length=80)),
                ("name", models.CharField(max_length=80)),
                (
                    "first_built",
                    models.PositiveSmallIntegerField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(1900),
                            django.core.validators.MaxValueValidator(2100),
                        ],
                    ),
                ),
                (
                    "last_built",
                    models.PositiveSmallIntegerField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(1900),
                            django.core.validators.MaxValueValidator(2100),
                        ],
                    ),
                ),
                (
                    "standard",
                    models.CharField(
                        blank=True,
                        help_text="The machine standard and edition that the model was built to.",
                        max_length=120,
                        verbose_name="built to",
                    ),
                ),
                (
                    "gases",
                    models.JSONField(
                        default=list, help_text="Codes of the gases that it can deliver, including oxygen."
                    ),
                ),
                ("vaporizer_positions", models.PositiveSmallIntegerField(default=1)),
                (
                    "lacks",
                    models.JSONField(
                        blank=True,
                        default=list,
                        help_text="What no machine of this model has: any of pipeline, yokes, ventilator, scavenging, mains-power.",
                    ),
                ),
                ("description", models.TextField(blank=True)),
                (
                    "parts_until",
                    models.DateField(
                        blank=True,
                        help_text="Approved spare parts and qualified service are available until this date.",
                        null=True,
                        verbose_name="spare parts until",
                    ),
                ),
                ("support_note", models.CharField(blank=True, max_length=200)),
                (
                    "vapour_free_minutes",
                    models.PositiveSmallIntegerField(
                        blank=True,
                        help_text="How long the machine is purged before a patient who must not breathe vapour; stated, not computed.",
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(1),
                            django.core.validators.MaxValueValidator(1440),
                        ],
                        verbose_name="purge for vapour-free use (min)",
                    ),
                ),
                (
                    "vapour_free_source",
                    models.CharField(
                        blank=True,
                        help_text="Who states it and where, with the flow and what is changed first, such as absorbent and hoses.",
                        max_length=200,
                        verbose_name="source of the purge time",
                    ),
                ),
                (
                    "circuit",
                    models.TextField(
                        blank=True,
                        help_text="The gas circuit of every machine of this model when new, as a circuit file (TOML).",
                        verbose_name="gas circuit",
                    ),
                ),
            ],
            options={
                "ordering": ["manufacturer", "name"],
                "constraints": [
                    models.UniqueConstraint(fields=("manufacturer", "name"), name="machine_model_once"),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("vapour_free_minutes", None), ("vapour_free_source", "")),
                            models.Q(
                                ("vapour_free_minutes__gte", 1), models.Q(("vapour_free_source", ""), _negated=True)
                            ),
                            _connector="OR",
                        ),
                        name="purge_time_with_source",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Machine",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("asset_number", models.CharField(max_length=40, unique=True)),
                ("serial", models.CharField(blank=True, max_length=60)),
                (
                    "model",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="machines", to="fleet.machinemodel"
                    ),
                ),
                (
                    "area",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="machines", to="fleet.area"
                    ),
                ),
                (
                    "built_year",
                    models.PositiveSmallIntegerField(
                        blank=True,
                        help_text="Selects the edition of each limit. Leave empty if not known.",
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(1900),
                            django.core.validators.MaxValueValidator(2100),
                        ],
                    ),
                ),
                (
                    "in_use_from",
                    models.DateField(help_text="First day of use. The register has no data from before this date."),
                ),
                (
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
                ("note", models.TextField(blank=True)),
                (
                    "staged",
                    models.CharField(
                        blank=True,
                        editable=False,
                        help_text="The import that is adding it, until that import is complete.",
                        max_length=60,
                    ),
                ),
            ],
            options={
                "ordering": ["asset_number"],
                "permissions": [
                    ("withdraw_machine", "Can withdraw a machine from use"),
                    ("release_machine", "Can return a machine to service"),
                    ("retire_machine", "Can retire a machine"),
                    ("import_register", "Can import a register"),
                    ("export_register", "Can export lists and reports"),
                ],
                "base_manager_name": "with_staged",
                "indexes": [
                    models.Index(fields=["status", "asset_number"], name="machine_by_duty"),
                    models.Index(fields=["asset_number", "serial", "model", "area", "staged"], name="machine_searched"),
                    models.Index(fields=["area", "status", "staged"], name="machine_by_area"),
                    models.Index(
                        condition=models.Q(("staged", ""), _negated=True), fields=["staged"], name="machine_by_staged"
                    ),
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("status__in", ("in service", "withdrawn", "retired", "entering"))),
                        name="machine_duty_known",
                    )
                ],
            },
            managers=[
                ("objects", django.db.models.manager.Manager()),
                ("with_staged", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="CircuitChange",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "machine",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="circuit_changes", to="fleet.machine"
                    ),
                ),
                (
                    "verb",
                    models.CharField(
                        choices=[
                            ("copied", "Copied from its model"),
                            ("fitted", "Fitted"),
                            ("inserted", "Inserted"),
                            ("replaced", "Replaced"),
                            ("removed", "Removed"),
                            ("joined", "Connected"),
                            ("parted", "Disconnected"),
                            ("altered", "Altered"),
                        ],
                        max_length=12,
                    ),
                ),
                ("changed_on", models.DateField()),
                ("words", models.CharField(max_length=400)),
                ("evidence", models.CharField(blank=True, max_length=300)),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("recorded_at", models.DateTimeField()),
                ("undone_at", models.DateTimeField(blank=True, null=True)),
                (
                    "undone_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("undone_reason", models.CharField(blank=True, max_length=300)),
            ],
            options={
                "verbose_name": "change of the gas circuit",
                "ordering": ["-changed_on", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("undone_at__isnull", True), models.Q(("undone_reason", ""), _negated=True), _connector="OR"
                        ),
                        name="circuit_change_undone_with_reason",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Component",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "machine",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="components", to="fleet.machine"
                    ),
                ),
                (
                    "code",
                    models.SlugField(
                        blank=True,
                        db_index=False,
                        help_text="Identifies the component in the gas circuit; made from its label.",
                        max_length=60,
                    ),
                ),
                ("kind", models.SlugField(choices=fleet.models.components.kind_choices, db_index=False, max_length=40)),
                (
                    "label",
                    models.CharField(
                        help_text="The name of the component on this machine, such as “N2O regulator”.", max_length=80
                    ),
                ),
                (
                    "gas",
                    models.SlugField(
                        blank=True, choices=fleet.models.components.gas_choices, db_index=False, max_length=20
                    ),
                ),
                (
                    "part_number",
                    models.CharField(
                        blank=True, db_column="maker_part", max_length=60, verbose_name="manufacturer's part number"
                    ),
                ),
                ("serial", models.CharField(blank=True, max_length=60)),
                ("lot", models.CharField(blank=True, max_length=60)),
                ("rated", models.JSONField(blank=True, default=dict)),
                ("further", models.JSONField(blank=True, default=dict, verbose_name="further values")),
                ("options", models.JSONField(blank=True, default=dict)),
                ("fitted_on", models.DateField()),
                ("removed_on", models.DateField(blank=True, null=True)),
                ("note", models.CharField(blank=True, max_length=300)),
                (
                    "fitted_in",
                    models.ForeignKey(
                        blank=True,
                        editable=False,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="components_fitted",
                        to="fleet.circuitchange",
                    ),
                ),
                (
                    "removed_in",
                    models.ForeignKey(
                        blank=True,
                        editable=False,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="components_removed",
                        to="fleet.circuitchange",
                    ),
                ),
            ],
            options={
                "ordering": ["kind", "label", "pk"],
                "indexes": [models.Index(fields=["kind", "lot"], name="component_by_lot")],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("removed_on__isnull", True), ("removed_on__gte", models.F("fitted_on")), _connector="OR"
                        ),
                        name="component_in_order",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("removed_on__isnull", True)),
                        fields=("machine", "label"),
                        name="component_label_once",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("removed_on__isnull", True), models.Q(("code", ""), _negated=True)),
                        fields=("machine", "code"),
                        name="component_code_once",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="CurrentState",
            fields=[
                (
                    "machine",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="current",
                        serialize=False,
                        to="fleet.machine",
                    ),
                ),
                ("asset_number", models.CharField(max_length=40)),
                ("status", models.CharField(max_length=12)),
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
                ("is_away", models.BooleanField()),
                ("fitted", models.BigIntegerField()),
                ("not_fitted", models.BigIntegerField()),
                ("gaps", models.BigIntegerField()),
                ("doubts", models.BigIntegerField()),
                ("missing", models.PositiveSmallIntegerField(help_text="How many essential safety features are gaps.")),
                ("holds_from", models.DateField()),
                ("next_due_id", models.BigIntegerField(null=True)),
                ("next_due_on", models.DateField(null=True)),
                ("next_closes_on", models.DateField(null=True)),
                ("open_findings", models.PositiveIntegerField()),
                ("essential_findings", models.PositiveIntegerField()),
            ],
            options={
                "ordering": ["asset_number"],
                "indexes": [
                    models.Index(fields=["missing", "asset_number", "status", "site"], name="current_by_missing"),
                    models.Index(fields=["-missing", "asset_number", "status", "site"], name="current_by_most_missing"),
                    models.Index(fields=["next_due_on", "asset_number", "status", "site"], name="current_by_due"),
                    models.Index(fields=["asset_number", "status", "site"], name="current_by_number"),
                    models.Index(fields=["model", "machine", "status", "site"], name="current_by_model"),
                    models.Index(fields=["area", "machine", "status", "site"], name="current_by_area"),
                    models.Index(fields=["gaps", "doubts", "status", "site"], name="current_by_gaps"),
                    models.Index(fields=["holds_from"], name="current_by_day"),
                ],
            },
        ),
        migrations.CreateModel(
            name="Connection",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "machine",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="connections", to="fleet.machine"
                    ),
                ),
                (
                    "source",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="connections_out",
                        to="fleet.component",
                    ),
                ),
                ("source_port", models.SlugField(default="out", max_length=20)),
                (
                    "target",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="connections_in", to="fleet.component"
                    ),
                ),
                ("target_port", models.SlugField(default="in", max_length=20)),
                (
                    "size",
                    models.CharField(
                        blank=True,
                        help_text="The connector at the end of a hose, such as “22 mm”.",
                        max_length=40,
                        verbose_name="connector",
                    ),
                ),
                ("fitted_on", models.DateField()),
                ("removed_on", models.DateField(blank=True, null=True)),
                (
                    "fitted_in",
                    models.ForeignKey(
                        blank=True,
                        editable=False,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="connections_made",
                        to="fleet.circuitchange",
                    ),
                ),
                (
                    "removed_in",
                    models.ForeignKey(
                        blank=True,
                        editable=False,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="connections_ended",
                        to="fleet.circuitchange",
                    ),
                ),
            ],
            options={
                "db_table": "fleet_link",
                "ordering": ["pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("source", models.F("target")), _negated=True), name="link_joins_two_parts"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("removed_on__isnull", True), ("removed_on__gte", models.F("fitted_on")), _connector="OR"
                        ),
                        name="link_in_order",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="AwayPeriod",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "machine",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="away_periods", to="fleet.machine"
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[("lent", "Lent"), ("outside repair", "Outside repair")],
                        max_length=20,
                        verbose_name="what for",
                    ),
                ),
                (
                    "to_whom",
                    models.CharField(
                        help_text="The department, hospital or workshop, and a name.",
                        max_length=120,
                        verbose_name="to whom",
                    ),
                ),
                ("from_date", models.DateField(verbose_name="away from")),
                ("expected_on", models.DateField(verbose_name="expected back on")),
                ("reason", models.CharField(max_length=300)),
                (
                    "note",
                    models.CharField(
                        blank=True, help_text="Such as what went with it, or an order number.", max_length=300
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
                ("at", models.DateTimeField()),
                ("returned_on", models.DateField(blank=True, null=True, verbose_name="came back on")),
                ("return_note", models.CharField(blank=True, max_length=300, verbose_name="condition on return")),
                (
                    "returned_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("returned_at", models.DateTimeField(null=True)),
            ],
            options={
                "ordering": ["-from_date", "-pk"],
                "indexes": [
                    models.Index(
                        condition=models.Q(("returned_on__isnull", True)),
                        fields=["expected_on"],
                        name="away_by_expected",
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("kind__in", ["lent", "outside repair"])), name="away_kind_known"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("reason", ""), _negated=True), models.Q(("to_whom", ""), _negated=True)
                        ),
                        name="away_says_whom_and_why",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("expected_on__gte", models.F("from_date"))),
                        name="away_expected_after_start",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("returned_at__isnull", True), ("returned_on__isnull", True)),
                            models.Q(("returned_at__isnull", False), ("returned_on__gte", models.F("from_date"))),
                            _connector="OR",
                        ),
                        name="away_returned_in_order",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("returned_on__isnull", True)),
                        fields=("machine",),
                        name="away_once_at_a_time",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="AreaPeriod",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "machine",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="area_periods",
                        to="fleet.machine",
                    ),
                ),
                (
                    "area",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="periods", to="fleet.area"
                    ),
                ),
                ("from_date", models.DateField()),
                ("until_date", models.DateField(blank=True, editable=False, null=True)),
                ("evidence", models.CharField(help_text="How it is known that the machine was there.", max_length=300)),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("recorded_at", models.DateTimeField()),
            ],
            options={
                "ordering": ["-from_date", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("until_date__isnull", True), ("until_date__gt", models.F("from_date")), _connector="OR"
                        ),
                        name="area_period_in_order",
                    ),
                    models.UniqueConstraint(fields=("machine", "from_date"), name="area_period_begins_once"),
                    models.UniqueConstraint(fields=("machine", "until_date"), name="area_period_ends_once"),
                    models.UniqueConstraint(
                        condition=models.Q(("until_date__isnull", True)),
                        fields=("machine",),
                        name="area_period_one_open",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="AlterationOfMachine",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "plan",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="machines", to="fleet.alterationplan"
                    ),
                ),
                (
                    "machine",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="alterations", to="fleet.machine"
                    ),
                ),
                (
                    "state",
                    models.CharField(
                        choices=[("planned", "Planned"), ("carried out", "Carried out"), ("left out", "Left out")],
                        default="planned",
                        editable=False,
                        max_length=12,
                    ),
                ),
                ("reason", models.CharField(blank=True, max_length=300, verbose_name="why it was left out")),
                ("done_on", models.DateField(blank=True, null=True, verbose_name="carried out on")),
                ("evidence", models.CharField(blank=True, max_length=300)),
                ("minutes", models.PositiveSmallIntegerField(blank=True, null=True, verbose_name="minutes of work")),
                (
                    "cost",
                    models.DecimalField(
                        blank=True,
                        decimal_places=3,
                        max_digits=15,
                        null=True,
                        validators=[django.core.validators.MinValueValidator(0)],
                        verbose_name="cost",
                    ),
                ),
                (
                    "currency",
                    models.CharField(blank=True, choices=fleet.catalogue.currencies.currency_choices, max_length=3),
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
                (
                    "change",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="alterations",
                        to="fleet.circuitchange",
                    ),
                ),
                (
                    "effect",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="machines",
                        to="fleet.alterationeffect",
                    ),
                ),
            ],
            options={
                "verbose_name": "machine of an alteration",
                "verbose_name_plural": "machines of alterations",
                "ordering": ["pk"],
                "constraints": [
                    models.UniqueConstraint(fields=("plan", "machine"), name="alteration_once_per_machine"),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("settled_at__isnull", True), ("state", "planned")),
                            models.Q(
                                ("settled_at__isnull", False),
                                ("state", "left out"),
                                models.Q(("reason", ""), _negated=True),
                            ),
                            models.Q(
                                ("done_on__isnull", False),
                                ("settled_at__isnull", False),
                                ("state", "carried out"),
                                models.Q(("evidence", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="alteration_settled_in_full",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("cost__isnull", True), models.Q(("currency", ""), _negated=True), _connector="OR"
                        ),
                        name="alteration_cost_has_currency",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="EarlierInspection",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "machine",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="earlier_inspections",
                        to="fleet.machine",
                    ),
                ),
                ("done_on", models.DateField()),
                (
                    "procedure",
                    models.CharField(help_text="What was done, as worded in the old record.", max_length=120),
                ),
                ("result", models.CharField(blank=True, max_length=200)),
                ("done_by", models.CharField(blank=True, max_length=100)),
                ("reference", models.CharField(blank=True, help_text="Number of the old record.", max_length=80)),
                ("counts_as", models.SlugField(blank=True, db_index=False, max_length=40)),
                ("source", models.CharField(help_text="The file from which it was imported.", max_length=120)),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("recorded_at", models.DateTimeField()),
            ],
            options={
                "ordering": ["-done_on", "-pk"],
                "constraints": [
                    models.UniqueConstraint(fields=("machine", "done_on", "procedure"), name="earlier_inspection_once")
                ],
            },
        ),
        migrations.CreateModel(
            name="FeatureState",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "feature",
                    models.SlugField(
                        choices=fleet.models.features.feature_choices,
                        db_index=False,
                        max_length=40,
                        verbose_name="safety feature",
                    ),
                ),
                (
                    "state",
                    models.CharField(
                        choices=[("fitted", "Fitted"), ("not fitted", "Not fitted"), ("not known", "Not known")],
                        max_length=12,
                    ),
                ),
                (
                    "machine",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="feature_states",
                        to="fleet.machine",
                    ),
                ),
                ("from_date", models.DateField()),
                ("until_date", models.DateField(blank=True, editable=False, null=True)),
                (
                    "evidence",
                    models.CharField(
                        choices=[
                            ("model default", "Model default"),
                            ("register", "Imported register"),
                            ("seen", "Seen on the machine"),
                            ("retrofit", "Retrofit"),
                            ("inspection", "Inspection finding"),
                        ],
                        max_length=20,
                    ),
                ),
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
                ("recorded_at", models.DateTimeField()),
            ],
            options={
                "ordering": ["feature", "-from_date", "-pk"],
                "indexes": [
                    models.Index(fields=["feature", "state", "from_date"], name="feature_state_by_feature"),
                    models.Index(
                        fields=["machine", "feature", "state", "from_date", "until_date"],
                        name="feature_state_by_machine",
                    ),
                    models.Index(
                        condition=models.Q(("evidence", "model default"), _negated=True),
                        fields=["recorded_at", "id"],
                        name="feature_state_recorded",
                    ),
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("state__in", ["fitted", "not fitted", "not known"])),
                        name="feature_state_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("until_date__isnull", True), ("until_date__gte", models.F("from_date")), _connector="OR"
                        ),
                        name="feature_state_in_order",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("until_date__isnull", True)),
                        fields=("machine", "feature"),
                        name="feature_state_one_open",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="MachineCover",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "machine",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE, related_name="circuit_cover", to="fleet.machine"
                    ),
                ),
                (
                    "cover",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="machines",
                        to="fleet.circuitcover",
                    ),
                ),
                (
                    "basis",
                    models.CharField(help_text="The records on which the circuit is based, in words.", max_length=200),
                ),
                (
                    "measured",
                    models.JSONField(default=list, help_text="Measured values used instead of rated ones, in words."),
                ),
                ("reason", models.TextField(blank=True, help_text="The reason why there is no table.")),
                ("on", models.DateField(help_text="The date for which the circuit was computed.")),
                ("computed_at", models.DateTimeField()),
            ],
            options={
                "ordering": ["machine"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("cover__isnull", False), ("reason", "")),
                            models.Q(("cover__isnull", True), models.Q(("reason", ""), _negated=True)),
                            _connector="OR",
                        ),
                        name="machine_cover_or_reason",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="AlterationPrice",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("currency", models.CharField(choices=fleet.catalogue.currencies.currency_choices, max_length=3)),
                (
                    "source",
                    models.CharField(
                        help_text="Where the figure is from, such as the invoice or the quotation, with its date.",
                        max_length=200,
                    ),
                ),
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
                    "feature",
                    models.SlugField(
                        choices=fleet.models.money.feature_choices,
                        db_index=False,
                        max_length=40,
                        verbose_name="safety feature",
                    ),
                ),
                (
                    "model",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="alteration_prices",
                        to="fleet.machinemodel",
                    ),
                ),
                (
                    "price",
                    models.DecimalField(
                        decimal_places=3,
                        max_digits=15,
                        validators=[django.core.validators.MinValueValidator(0)],
                        verbose_name="price for each machine",
                    ),
                ),
                (
                    "minutes",
                    models.PositiveSmallIntegerField(
                        help_text="Of the department's own technicians, with the test afterwards.",
                        verbose_name="minutes of work on each machine",
                    ),
                ),
                ("priced_on", models.DateField(verbose_name="date of the price")),
            ],
            options={
                "ordering": ["feature", "-priced_on", "-pk"],
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("price__gte", 0)), name="alteration_price_not_negative")
                ],
            },
        ),
        migrations.CreateModel(
            name="MachinePurchase",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("currency", models.CharField(choices=fleet.catalogue.currencies.currency_choices, max_length=3)),
                (
                    "source",
                    models.CharField(
                        help_text="Where the figure is from, such as the invoice or the quotation, with its date.",
                        max_length=200,
                    ),
                ),
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
                    "machine",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="purchases", to="fleet.machine"
                    ),
                ),
                ("bought_on", models.DateField(blank=True, null=True)),
                (
                    "price",
                    models.DecimalField(
                        blank=True,
                        decimal_places=3,
                        max_digits=15,
                        null=True,
                        validators=[django.core.validators.MinValueValidator(0)],
                        verbose_name="price",
                    ),
                ),
            ],
            options={
                "ordering": ["-at", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("bought_on__isnull", False), ("price__isnull", False), _connector="OR"),
                        name="purchase_says_something",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("price__isnull", True), ("price__gte", 0), _connector="OR"),
                        name="purchase_not_negative",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ModelFeature",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "feature",
                    models.SlugField(
                        choices=fleet.models.features.feature_choices,
                        db_index=False,
                        max_length=40,
                        verbose_name="safety feature",
                    ),
                ),
                (
                    "state",
                    models.CharField(
                        choices=[("fitted", "Fitted"), ("not fitted", "Not fitted"), ("not known", "Not known")],
                        max_length=12,
                    ),
                ),
                (
                    "model",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="features", to="fleet.machinemodel"
                    ),
                ),
            ],
            options={
                "ordering": ["feature"],
                "constraints": [models.UniqueConstraint(fields=("model", "feature"), name="model_feature_once")],
            },
        ),
        migrations.CreateModel(
            name="Passkey",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="passkeys",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "name",
                    models.CharField(
                        help_text="The device that holds it, such as “Tablet of workshop 2”.", max_length=60
                    ),
                ),
                ("credential", models.CharField(editable=False, max_length=1400, unique=True)),
                ("public_key", models.TextField(editable=False)),
                ("sign_count", models.BigIntegerField(default=0, editable=False)),
                ("added_at", models.DateTimeField(editable=False)),
                ("used_at", models.DateTimeField(editable=False, null=True)),
            ],
            options={
                "ordering": ["person", "added_at", "pk"],
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("name", ""), _negated=True), name="passkey_has_a_name"),
                    models.UniqueConstraint(fields=("person", "name"), name="passkey_name_once_per_person"),
                ],
            },
        ),
        migrations.CreateModel(
            name="PasskeyChallenge",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("session", models.CharField(max_length=64)),
                ("act", models.CharField(max_length=64)),
                ("challenge", models.CharField(max_length=100, unique=True)),
                ("made_at", models.DateTimeField()),
            ],
            options={
                "ordering": ["made_at", "pk"],
            },
        ),
        migrations.CreateModel(
            name="RegisterUpload",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(max_length=120)),
                ("kind", models.SlugField(db_index=False, default="machines", max_length=30)),
                ("content", models.BinaryField()),
                ("settings", models.JSONField(default=dict)),
                ("snapshot", models.JSONField(null=True)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="register_uploads",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("uploaded_at", models.DateTimeField()),
                ("imported_at", models.DateTimeField(null=True)),
                (
                    "rest_of",
                    models.ForeignKey(
                        help_text="The import whose waiting rows this reads again.",
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="readings_again",
                        to="fleet.registerupload",
                    ),
                ),
            ],
            options={
                "ordering": ["-uploaded_at", "-pk"],
            },
        ),
        migrations.CreateModel(
            name="ReplacementPrice",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("currency", models.CharField(choices=fleet.catalogue.currencies.currency_choices, max_length=3)),
                (
                    "source",
                    models.CharField(
                        help_text="Where the figure is from, such as the invoice or the quotation, with its date.",
                        max_length=200,
                    ),
                ),
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
                    "model",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="replacement_prices",
                        to="fleet.machinemodel",
                    ),
                ),
                (
                    "price",
                    models.DecimalField(
                        decimal_places=3,
                        max_digits=15,
                        validators=[django.core.validators.MinValueValidator(0)],
                        verbose_name="price of a new machine",
                    ),
                ),
                ("priced_on", models.DateField(verbose_name="date of the price")),
            ],
            options={
                "ordering": ["-priced_on", "-pk"],
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("price__gt", 0)), name="replacement_price_above_zero")
                ],
            },
        ),
        migrations.CreateModel(
            name="ServiceContract",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("currency", models.CharField(choices=fleet.catalogue.currencies.currency_choices, max_length=3)),
                (
                    "source",
                    models.CharField(
                        help_text="Where the figure is from, such as the invoice or the quotation, with its date.",
                        max_length=200,
                    ),
                ),
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
                    "machine",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="service_contracts",
                        to="fleet.machine",
                    ),
                ),
                (
                    "model",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="service_contracts",
                        to="fleet.machinemodel",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="service_contracts",
                        to="fleet.site",
                    ),
                ),
                ("provider", models.CharField(max_length=100)),
                (
                    "yearly_cost",
                    models.DecimalField(
                        decimal_places=3,
                        max_digits=15,
                        validators=[django.core.validators.MinValueValidator(0)],
                        verbose_name="cost for each machine and year",
                    ),
                ),
                ("from_date", models.DateField(verbose_name="first day")),
                ("until_date", models.DateField(blank=True, null=True, verbose_name="last day")),
            ],
            options={
                "ordering": ["-from_date", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("machine__isnull", False), ("model__isnull", True), ("site__isnull", True)),
                            models.Q(("machine__isnull", True), ("model__isnull", False), ("site__isnull", False)),
                            _connector="OR",
                        ),
                        name="contract_of_machine_or_model",
                    ),
                    models.CheckConstraint(condition=models.Q(("yearly_cost__gte", 0)), name="contract_not_negative"),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("until_date__isnull", True), ("until_date__gte", models.F("from_date")), _connector="OR"
                        ),
                        name="contract_in_order",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="CostRate",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("currency", models.CharField(choices=fleet.catalogue.currencies.currency_choices, max_length=3)),
                (
                    "source",
                    models.CharField(
                        help_text="Where the figure is from, such as the invoice or the quotation, with its date.",
                        max_length=200,
                    ),
                ),
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
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="cost_rates", to="fleet.site"
                    ),
                ),
                (
                    "hour_cost",
                    models.DecimalField(
                        decimal_places=3,
                        max_digits=15,
                        validators=[django.core.validators.MinValueValidator(0)],
                        verbose_name="cost of one hour of work",
                    ),
                ),
                ("from_date", models.DateField(verbose_name="from")),
            ],
            options={
                "ordering": ["-from_date", "-pk"],
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("hour_cost__gt", 0)), name="cost_rate_above_zero")
                ],
            },
        ),
        migrations.CreateModel(
            name="SiteCurrency",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "site",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE, related_name="money", to="fleet.site"
                    ),
                ),
                ("currency", models.CharField(choices=fleet.catalogue.currencies.currency_choices, max_length=3)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                ("at", models.DateTimeField()),
            ],
            options={
                "verbose_name_plural": "site currencies",
                "ordering": ["site__name"],
                "permissions": [
                    ("view_money", "Can see prices and costs"),
                    ("enter_money", "Can enter prices and costs"),
                ],
            },
        ),
        migrations.CreateModel(
            name="SoftwareVersion",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
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
                ("withdrawn_reason", models.CharField(blank=True, max_length=300)),
                (
                    "machine",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="software_versions",
                        to="fleet.machine",
                    ),
                ),
                ("part", models.CharField(blank=True, max_length=80, verbose_name="software of")),
                ("version", models.CharField(max_length=60)),
                ("installed_on", models.DateField(verbose_name="installed, or read, on")),
                ("source", models.CharField(max_length=300)),
            ],
            options={
                "ordering": ["-installed_on", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("version", ""), _negated=True), models.Q(("source", ""), _negated=True)
                        ),
                        name="software_version_has_source",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("withdrawn_at", None), models.Q(("withdrawn_reason", ""), _negated=True), _connector="OR"
                        ),
                        name="software_version_withdrawn_with_reason",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="SparePartCost",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("currency", models.CharField(choices=fleet.catalogue.currencies.currency_choices, max_length=3)),
                (
                    "source",
                    models.CharField(
                        help_text="Where the figure is from, such as the invoice or the quotation, with its date.",
                        max_length=200,
                    ),
                ),
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
                    "machine",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="spare_part_costs", to="fleet.machine"
                    ),
                ),
                ("what", models.CharField(max_length=200, verbose_name="what was bought")),
                (
                    "cost",
                    models.DecimalField(
                        decimal_places=3,
                        max_digits=15,
                        validators=[django.core.validators.MinValueValidator(0)],
                        verbose_name="cost",
                    ),
                ),
                ("bought_on", models.DateField()),
            ],
            options={
                "ordering": ["-bought_on", "-pk"],
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("cost__gte", 0)), name="spare_part_cost_not_negative")
                ],
            },
        ),
        migrations.CreateModel(
            name="StartPutAway",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "person",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="start_put_away",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("put_away_at", models.DateTimeField()),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="StatusChange",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "machine",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="status_changes", to="fleet.machine"
                    ),
                ),
                (
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
                ("changed_on", models.DateField()),
                ("reason", models.CharField(max_length=300)),
                ("evidence", models.CharField(blank=True, help_text="Such as “Inspection 41”.", max_length=120)),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("recorded_at", models.DateTimeField()),
            ],
            options={
                "db_table": "fleet_dutychange",
                "ordering": ["-recorded_at", "-pk"],
            },
        ),
        migrations.CreateModel(
            name="UserInstruction",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
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
                ("withdrawn_reason", models.CharField(blank=True, max_length=300)),
                (
                    "machine",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="instructions",
                        to="fleet.machine",
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
                ("name", models.CharField(max_length=120, verbose_name="person instructed")),
                ("held_on", models.DateField(verbose_name="instructed on")),
                ("instructor", models.CharField(max_length=120, verbose_name="instructed by")),
                ("topics", models.CharField(max_length=500)),
                ("valid_until", models.DateField(blank=True, null=True)),
                ("reference", models.CharField(blank=True, max_length=200)),
            ],
            options={
                "ordering": ["-held_on", "name", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("area", None), ("machine__isnull", False), ("machine_model", None)),
                            models.Q(("area__isnull", False), ("machine", None), ("machine_model__isnull", False)),
                            _connector="OR",
                        ),
                        name="instruction_on_machine_or_model",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("valid_until", None), ("valid_until__gte", models.F("held_on")), _connector="OR"
                        ),
                        name="instruction_days_in_order",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("withdrawn_at", None), models.Q(("withdrawn_reason", ""), _negated=True), _connector="OR"
                        ),
                        name="instruction_withdrawn_with_reason",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ValueMeaning",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("kind", models.SlugField(db_index=False, max_length=30)),
                (
                    "site",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="value_meanings",
                        to="fleet.site",
                    ),
                ),
                ("column", models.SlugField(db_index=False, max_length=40)),
                ("written", models.CharField(max_length=200)),
                ("meaning", models.CharField(blank=True, max_length=200)),
                ("is_right", models.BooleanField(default=False)),
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
                "ordering": ["column", "written", "pk"],
                "constraints": [
                    models.UniqueConstraint(fields=("kind", "site", "column", "written"), name="value_meaning_once"),
                    models.UniqueConstraint(
                        condition=models.Q(("site", None)),
                        fields=("kind", "column", "written"),
                        name="value_meaning_once_for_every_site",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="WaitingRow",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "upload",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="waiting", to="fleet.registerupload"
                    ),
                ),
                ("number", models.PositiveIntegerField()),
                ("key", models.CharField(blank=True, max_length=300)),
                ("problems", models.JSONField(default=list)),
                ("since", models.DateTimeField()),
            ],
            options={
                "ordering": ["upload", "number"],
                "constraints": [models.UniqueConstraint(fields=("upload", "number"), name="waiting_row_once")],
            },
        ),
        migrations.RunPython(add_due_last, remove_due_last),
    ]
