"""Questions about instruments and their calibrations, as QuerySet methods that read as English."""

from datetime import timedelta

from django.apps import apps
from django.db import models
from django.db.models import Exists, OuterRef, Q

from fleet.models.querysets.scoped import SiteScopedQuerySet

SOON = timedelta(days=30)  # a calibration that runs out within this time is marked


class InstrumentQuerySet(SiteScopedQuerySet):
    def usable(self):
        return self.filter(is_retired=False)

    def found_by(self, text):
        """Return the instruments whose code, name or serial contains `text`."""
        return self.filter(Q(code__icontains=text) | Q(name__icontains=text) | Q(serial__icontains=text))

    def with_standing(self, day):
        """Annotate the due date and `standing`: ok, soon (runs out within SOON of `day`) or out."""
        Calibration = apps.get_model("fleet", "Calibration")
        good = Q(calibration_result__in=Calibration.VALID_RESULTS, due_on__gte=day)
        return self.with_due_date(day).annotate(
            standing=models.Case(
                models.When(good & Q(due_on__gt=day + SOON), then=models.Value("ok")),
                models.When(good, then=models.Value("soon")),
                default=models.Value("out"),
                output_field=models.CharField(),
            )
        )

    def in_standing(self, standing, day):
        return self.with_standing(day).filter(standing=standing)

    def in_calibration_on(self, day):
        """Return the instruments whose latest calibration up to `day` was within limits and has not run out."""
        Calibration = apps.get_model("fleet", "Calibration")
        latest = Calibration.objects.latest_by(day, OuterRef(OuterRef("pk")))
        valid = Calibration.objects.filter(
            pk=models.Subquery(latest.values("pk")[:1]), due_on__gte=day, result__in=Calibration.VALID_RESULTS
        )
        return self.filter(Exists(valid))

    def with_due_date(self, day):
        """Annotate `due_on`, `calibrated_on` and `calibration_result` of the latest calibration up to `day`."""
        Calibration = apps.get_model("fleet", "Calibration")
        latest = Calibration.objects.latest_by(day, OuterRef("pk"))
        return self.annotate(
            due_on=models.Subquery(latest.values("due_on")[:1]),
            calibrated_on=models.Subquery(latest.values("calibrated_on")[:1]),
            calibration_result=models.Subquery(latest.values("result")[:1]),
        )


class InstrumentRowQuerySet(SiteScopedQuerySet):
    site_path = "instrument__site"


class CalibrationQuerySet(InstrumentRowQuerySet):
    def last_good_before(self, calibration):
        """Return the newest earlier calibration of its instrument that was or was made sound, None without one."""
        earlier = self.filter(instrument=calibration.instrument_id, calibrated_on__lt=calibration.calibrated_on)
        return earlier.filter(result__in=self.model.VALID_RESULTS).order_by("-calibrated_on", "-pk").first()

    def latest_by(self, day, instrument):
        """Return the calibrations of `instrument` done by `day`, the latest first."""
        return self.filter(instrument=instrument, calibrated_on__lte=day).order_by("-calibrated_on", "-pk")
