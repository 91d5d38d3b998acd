"""Queries about the register."""

from datetime import timedelta

from django.db import models
from django.db.models import Count, Exists, F, OuterRef, Q
from django.db.models.functions import Coalesce

from fleet.journal.querysets import JournaledQuerySet

SOON = timedelta(days=30)  # a calibration that runs out within this time is marked


class SiteScopedQuerySet(JournaledQuerySet):
    """Rows that belong to a site, limited to the sites of the person who asks."""

    site_path = "site"

    def visible_to(self, person):
        """Return what `person` may see: every site, or the sites that the person is limited to."""
        if not person.is_authenticated:
            return self.none()
        if not person.site_ids:
            return self
        return self.filter(**{f"{self.site_path}__in": person.site_ids})


class SiteQuerySet(SiteScopedQuerySet):
    site_path = "pk"


class AreaQuerySet(SiteScopedQuerySet):
    def with_in_service(self):
        """Annotate `in_service`, the number of machines in service."""
        return self.annotate(in_service=Count("machines", filter=Q(machines__duty="in service")))

    def below_minimum(self):
        """Return the areas with fewer machines in service than their minimum."""
        return self.with_in_service().filter(in_service__lt=F("minimum_machines"))

    def with_duties(self):
        """Annotate `in_service` and `withdrawn`, the number of machines in each status."""
        return self.with_in_service().annotate(withdrawn=Count("machines", filter=Q(machines__duty="withdrawn")))


class MachineQuerySet(SiteScopedQuerySet):
    site_path = "area__site"

    def in_service(self):
        return self.filter(duty="in service")

    def withdrawn(self):
        return self.filter(duty="withdrawn")

    def not_retired(self):
        return self.exclude(duty="retired")

    def with_place(self):
        return self.select_related("model", "area__site")

    def with_feature(self, code, state, on):
        """Return machines whose feature `code` is in `state` on the date `on`; not known includes never recorded."""
        from fleet.models import FeatureState

        told = FeatureState.objects.on(on).filter(machine=OuterRef("pk"), feature=code)
        if state == "not known":
            return self.filter(~Exists(told) | Exists(told.filter(state=state)))
        return self.filter(Exists(told.filter(state=state)))

    def with_missing_essential(self, on):
        """Prefetch `missing_essential`: the essential features recorded as not fitted on the date `on` that apply."""
        from fleet.models import FeatureState

        missing = FeatureState.objects.missing_essential(on)
        return self.prefetch_related(models.Prefetch("feature_states", queryset=missing, to_attr="missing_essential"))

    def with_missing_count(self, on):
        """Annotate `missing_count`: how many essential features are missing on the date `on`, to sort by."""
        from fleet.models import FeatureState

        missing = FeatureState.objects.missing_essential(on).filter(machine=OuterRef("pk")).order_by()
        counted = missing.values("machine").annotate(n=Count("pk")).values("n")
        return self.annotate(missing_count=Coalesce(models.Subquery(counted), 0))

    def found_by(self, text):
        """Return the machines whose asset number, serial, model or location contains `text`."""
        words = Q()
        for path in ("asset_number", "serial", "model__name", "model__maker", "area__name", "area__site__name"):
            words |= Q(**{f"{path}__icontains": text})
        return self.filter(words)


class MachineModelQuerySet(JournaledQuerySet):
    def with_duties(self, person):
        """Annotate `in_service`, `withdrawn` and `retired`: machines that `person` may see."""
        mine = Q(machines__area__site__in=person.site_ids) if person.site_ids else Q()
        return self.annotate(
            **{
                duty.replace(" ", "_"): Count("machines", filter=mine & Q(machines__duty=duty))
                for duty in ("in service", "withdrawn", "retired")
            }
        )


class MachinePartQuerySet(SiteScopedQuerySet):
    """Rows that belong to a machine."""

    site_path = "machine__area__site"


class DatedPartQuerySet(MachinePartQuerySet):
    """Rows of a machine that hold for a period, in the fields of the model's `span`: first day, day after the last."""

    def on(self, day):
        """Return what held on the date `day`: begun by then and not yet ended."""
        start, end = self.model.span
        return self.filter(Q(**{f"{end}__isnull": True}) | Q(**{f"{end}__gt": day}), **{f"{start}__lte": day})


class InstrumentQuerySet(SiteScopedQuerySet):
    def usable(self):
        return self.filter(is_retired=False)

    def found_by(self, text):
        """Return the instruments whose code, name or serial contains `text`."""
        return self.filter(Q(code__icontains=text) | Q(name__icontains=text) | Q(serial__icontains=text))

    def with_standing(self, day):
        """Annotate the due date and `standing`: ok, soon (runs out within SOON of `day`) or out."""
        from fleet.models import Calibration

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
        from fleet.models import Calibration

        latest = Calibration.objects.latest_by(day, OuterRef(OuterRef("pk")))
        valid = Calibration.objects.filter(
            pk=models.Subquery(latest.values("pk")[:1]), due_on__gte=day, result__in=Calibration.VALID_RESULTS
        )
        return self.filter(Exists(valid))

    def with_due_date(self, day):
        """Annotate `due_on`, `calibrated_on` and `calibration_result` of the latest calibration up to `day`."""
        from fleet.models import Calibration

        latest = Calibration.objects.latest_by(day, OuterRef("pk"))
        return self.annotate(
            due_on=models.Subquery(latest.values("due_on")[:1]),
            calibrated_on=models.Subquery(latest.values("calibrated_on")[:1]),
            calibration_result=models.Subquery(latest.values("result")[:1]),
        )


class InstrumentPartQuerySet(SiteScopedQuerySet):
    site_path = "instrument__site"


class CalibrationQuerySet(InstrumentPartQuerySet):
    def latest_by(self, day, instrument):
        """Return the calibrations of `instrument` done by `day`, the latest first."""
        return self.filter(instrument=instrument, calibrated_on__lte=day).order_by("-calibrated_on", "-pk")
