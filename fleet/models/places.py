"""Sites and the areas of use within them."""

from zoneinfo import ZoneInfo, available_timezones

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.urls import reverse
from django.utils import timezone

from fleet.catalogue import ambient_pressure_pa_abs
from fleet.catalogue.plausibility import use_bounds
from fleet.models.querysets.places import AreaQuerySet, SiteQuerySet

LOWEST_M, HIGHEST_M = map(int, use_bounds("altitude"))


def validate_time_zone(name):
    if name not in available_timezones():
        raise ValidationError(f"“{name}” is not a time zone. Enter a name from the IANA list, such as Europe/Lisbon.")


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
    time_zone = models.CharField(max_length=60, default="UTC", validators=[validate_time_zone])

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

    objects = SiteQuerySet.as_manager()

    class Meta:
        ordering = ["name"]

    def __str__(self):
        return self.name

    @property
    def ambient_pa_abs(self):
        """Return the ambient pressure of the standard atmosphere at this altitude, Pa absolute."""
        return ambient_pressure_pa_abs(self.altitude_m)

    @property
    def ambient_kpa_abs(self):
        return self.ambient_pa_abs / 1000

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
        return f"{self.name}, {self.site.name}"

    def get_absolute_url(self):
        return reverse("fleet:machines") + f"?area={self.pk}"
