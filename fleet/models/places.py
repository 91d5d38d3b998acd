"""Sites and the areas of use within them."""

from datetime import date
from zoneinfo import ZoneInfo, available_timezones

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.urls import reverse
from django.utils import timezone

from fleet.catalogue import ambient_pressure_pa_abs
from fleet.catalogue.oxygen_supply import GRADE_TITLES, OxygenGrade, SuppliedOxygen, percent_problem
from fleet.catalogue.plausibility import use_bounds
from fleet.catalogue.public_holidays import country_problem, subdivision_problem
from fleet.catalogue.rule_sets import RULE_SET_TITLES, rule_set_in_words
from fleet.models.querysets.places import AreaQuerySet, SiteQuerySet
from fleet.place_format import DAY_STYLES, DECIMAL_SIGNS, PAPER_SIZES, PlaceFormat, day_text, unit_choice_problem
from fleet.place_format.days import DEFAULT_STYLE

DEFAULT_CHECK_LIST = "manufacturer's daily check list"
LOWEST_M, HIGHEST_M = map(int, use_bounds("altitude"))


def validate_time_zone(name):
    if name not in available_timezones():
        raise ValidationError(f"“{name}” is not a time zone. Enter a name from the IANA list, such as Europe/Lisbon.")


def validate_preferred_units(units):
    if problem := unit_choice_problem(units):
        raise ValidationError(problem)


def validate_holiday_country(code):
    if problem := country_problem(code):
        raise ValidationError(problem)


DATE_FORMATS = [(code, day_text(date(2026, 11, 2), code)) for code in DAY_STYLES]


class Site(models.Model):
    """A hospital. Its altitude gives the ambient pressure for the correction of leak, flow and vapour readings."""

    code = models.SlugField(max_length=20, unique=True)
    name = models.CharField(max_length=100, unique=True)
    altitude_m = models.SmallIntegerField(
        "altitude (m)",
        default=0,
        validators=[MinValueValidator(LOWEST_M), MaxValueValidator(HIGHEST_M)],
        help_text=f"Metres above sea level, {LOWEST_M:,} to {HIGHEST_M:,}.",
    )
    oxygen_grade = models.CharField(
        "oxygen supply",
        max_length=20,
        choices=list(GRADE_TITLES.items()),
        default=OxygenGrade.OXYGEN,
        help_text="What the pipeline and cylinders hold. Oxygen analysers and mixtures are judged by it.",
    )
    oxygen_percent = models.FloatField(
        "oxygen of the supply (% by volume)",
        null=True,
        blank=True,
        help_text="As measured behind the plant. Empty: anywhere within the grade.",
    )
    time_zone = models.CharField(max_length=60, default="UTC", validators=[validate_time_zone])
    decimal_sign = models.CharField(
        max_length=1,
        choices=list(DECIMAL_SIGNS.items()),
        default=".",
        help_text="As pages and paper show numbers. Both are accepted when typing.",
    )
    date_format = models.CharField(max_length=20, choices=DATE_FORMATS, default=DEFAULT_STYLE)
    paper_size = models.CharField(max_length=10, choices=list(PAPER_SIZES.items()), default="A4")
    preferred_units = models.JSONField(
        default=dict,
        blank=True,
        validators=[validate_preferred_units],
        help_text="By dimension, the unit in which pages and paper show results.",
    )
    rule_set = models.CharField(
        "set of rules",
        max_length=20,
        choices=list(RULE_SET_TITLES.items()),
        blank=True,
        default="",
        help_text="The published rules by which results are judged here. No rule outside the set is applied. Until one "
        "is chosen, the strictest of all sets counts.",
    )

    two_for_release = models.BooleanField(
        "second person for every release",
        default=False,
        help_text="One person proposes it, another person confirms it with their own password.",
    )
    two_for_amendment = models.BooleanField("second person for every amendment of a signed record", default=False)
    two_for_finding = models.BooleanField("second person for closing every essential finding", default=False)
    two_for_limit = models.BooleanField("second person for every change of a limit", default=False)
    signer_may_release = models.BooleanField(
        "the person who signed the retest may release alone",
        default=False,
        help_text="Also after an essential failure. Unless this is ticked, a person who did not sign the "
        "retest decides.",
    )

    has_label_page = models.BooleanField(
        "the code on a label opens a public page",
        default=False,
        help_text="Whoever scans a label sees without a login whether the machine may be used, and can report a fault "
        "or record a check. Unless this is ticked, the code leads to the login.",
    )
    fault_phone = models.CharField(
        "phone of the biomedical department",
        max_length=80,
        blank=True,
        help_text="Shown on the public page and on DO NOT USE tags, such as “ext. 4417, at night 4400”.",
    )
    check_list = models.CharField(
        "check list of the daily check",
        max_length=120,
        blank=True,
        help_text="The title that a recorded check names. Empty: the manufacturer's daily check list.",
    )

    two_after_repair = models.BooleanField(
        "a person who did not do the repair must decide about a release",
        default=False,
        help_text="Whoever signed or entered readings of the retest, or fitted a component since the withdrawal, "
        "proposes the release; a person who did none of this confirms it.",
    )

    holiday_country = models.CharField(
        "country of the public holidays",
        max_length=2,
        blank=True,
        validators=[validate_holiday_country],
        help_text="Its public holidays are free days of the site. Local ones are entered as free days.",
    )
    holiday_subdivision = models.CharField(
        "state or region of the public holidays",
        max_length=20,
        blank=True,
        help_text="The code of a state, province or region that has holidays of its own, such as BY. Empty: those of "
        "the whole country.",
    )
    needs_competence = models.BooleanField(
        "only competent people are booked and sign",
        default=False,
        help_text="A technician needs a confirmed competence for the machine model or its manufacturer, valid on "
        "the day.",
    )

    objects = SiteQuerySet.as_manager()

    class Meta:
        ordering = ["name"]

    def __str__(self):
        return self.name

    def clean(self):
        if problem := percent_problem(self.oxygen_grade, self.oxygen_percent):
            raise ValidationError({"oxygen_percent": problem})
        if problem := subdivision_problem(self.holiday_country, self.holiday_subdivision):
            raise ValidationError({"holiday_subdivision": problem})

    @property
    def oxygen(self):
        """The oxygen that supplies the site."""
        return SuppliedOxygen(OxygenGrade(self.oxygen_grade), self.oxygen_percent)

    @property
    def ambient_pa_abs(self):
        """Return the ambient pressure of the standard atmosphere at this altitude, Pa absolute."""
        return ambient_pressure_pa_abs(self.altitude_m)

    @property
    def ambient_kpa_abs(self):
        return self.ambient_pa_abs / 1000

    @property
    def place_format(self):
        """How pages and paper of this site show numbers, days and quantities."""
        return PlaceFormat.from_dict(
            {
                "decimal": self.decimal_sign,
                "day": self.date_format,
                "paper": self.paper_size,
                "units": self.preferred_units,
                "time_zone": self.time_zone,
            }
        )

    @property
    def check_list_title(self):
        """The check list that a recorded check names; the default is common practice, no source."""
        return self.check_list or DEFAULT_CHECK_LIST

    @property
    def rule_set_words(self):
        return rule_set_in_words(self.rule_set)

    @property
    def unit_words(self):
        """The preferred units, such as “pressure in psi, flow in mL/min”."""
        return ", ".join(f"{dimension} in {symbol}" for dimension, symbol in sorted(self.preferred_units.items()))

    def date_of(self, moment):
        """Return the calendar date of `moment` at this site."""
        return timezone.localtime(moment, ZoneInfo(self.time_zone)).date()


class Area(models.Model):
    """A location, such as a theatre suite, with its minimum number of machines."""

    site = models.ForeignKey(Site, models.PROTECT, related_name="areas")
    name = models.CharField(max_length=100)
    minimum_machines = models.PositiveSmallIntegerField(
        default=0, help_text="The minimum number of machines in service in this area."
    )

    objects = AreaQuerySet.as_manager()

    class Meta:
        ordering = ["site__name", "name"]
        constraints = [models.UniqueConstraint(fields=["site", "name"], name="area_name_once_per_site")]

    def __str__(self):
        return self.in_words(self.name, self.site.name)

    def get_absolute_url(self):
        return self.address_of(self.pk)

    @staticmethod
    def in_words(name, site):
        """Return how an area is named, by its own name and that of its site."""
        return f"{name}, {site}"

    @staticmethod
    def address_of(pk):
        """Return the address of the list of an area's machines."""
        return reverse("fleet:machines") + f"?area={pk}"
