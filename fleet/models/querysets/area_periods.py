"""Where machines were, as QuerySet methods and as expressions for other rows."""

from django.apps import apps
from django.db.models import BigIntegerField, CharField, F, OuterRef, Subquery
from django.db.models.functions import Coalesce

from fleet.models.querysets.scoped import DatedRowQuerySet


class AreaPeriodQuerySet(DatedRowQuerySet):
    def oldest_first(self):
        return self.order_by("from_date", "pk")


def area_on(day, machine="pk", present="area"):
    """Return the expression for the key of the area in which a row's machine was on `day`.

    day      a date, or an OuterRef to the column of the row that holds it
    machine  path from the row to the key of the machine;  present, to its area of today, which counts where no period
             is recorded for the day
    """
    return _then(day, machine, "area", present)


def site_on(day, machine="pk", present="area__site"):
    """Return the expression for the key of the site at which a row's machine was on `day`; see `area_on`."""
    return _then(day, machine, "area__site", present)


def words_on(day, machine, path, present):
    """Return the expression for a text of the area of `day`: `path` from its period, `present` from the row."""
    return _then(day, machine, path, present, CharField())


def _then(day, machine, what, present, output_field=None):
    periods = apps.get_model("fleet", "AreaPeriod").objects.on(day).filter(machine=OuterRef(machine))
    then = Subquery(periods.order_by("-from_date").values(what)[:1])
    return Coalesce(then, F(present), output_field=output_field or BigIntegerField())
