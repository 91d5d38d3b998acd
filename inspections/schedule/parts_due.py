"""Components in place that have a life, and when each is due: chosen and ordered in the database."""

from datetime import date

from django.db import models
from django.db.models import Case, OuterRef, Q, Subquery, Value, When
from django.db.models.functions import ExtractDay, ExtractMonth, ExtractYear

from fleet.models import Component
from inspections.models import ComponentLife, LifeUnit, MeterReading
from inspections.planning.part_life import due_of, last_fitted_due

NOTHING = Q(pk__in=[])
MONTHS_A_YEAR = 12


class PartsWithLife:
    """The lives in force on a date, and the components that they are about. One query, then one for each question."""

    def __init__(self, on: date):
        lives = list(ComponentLife.objects.in_force(on).with_scope())
        # A life of one model comes before that of all models; of two of one scope the newer counts.
        self.lives = sorted(lives, key=lambda one: (one.machine_model_id is None, -one.from_date.toordinal(), -one.pk))
        self.by_key = {one.pk: one for one in self.lives}

    def components(self, person=None):
        """Components with a life that are in place on machines that are not retired.

        Annotated with `life_id`, `used`, `read_on`, `due_month` and `due_day`. The last two sort by the due date: what
        has a meter comes first.
        """
        rows = Component.objects.filter(removed_on=None).exclude(machine__status="retired")
        rows = rows if person is None else rows.visible_to(person)
        key = self._by_life(lambda one: one.pk, models.IntegerField())
        rows = rows.filter(kind__in={one.kind for one in self.lives}).annotate(life_id=key)
        rows = rows.filter(life_id__isnull=False)
        unit = self._by_life(lambda one: one.unit, models.CharField())
        newest = MeterReading.objects.in_force().filter(component=OuterRef("pk"), unit=OuterRef("life_unit"))
        newest = newest.order_by("-read_on", "-pk")
        rows = rows.annotate(life_unit=unit).annotate(
            used=Subquery(newest.values("used")[:1]), read_on=Subquery(newest.values("read_on")[:1])
        )
        fitted = ExtractYear("fitted_on") * MONTHS_A_YEAR + ExtractMonth("fitted_on")
        months = self._by_life(lambda one: one.life if one.unit == LifeUnit.MONTHS else 0, models.IntegerField())
        due_month = Case(When(life_unit=LifeUnit.MONTHS, then=fitted + months), default=0)
        return rows.annotate(due_month=due_month, due_day=ExtractDay("fitted_on")).select_related(
            "machine__model", "machine__area__site"
        )

    def due_by(self, rows, day):
        """Keep what is due on `day` or earlier, or has used up its hours or cycles."""
        due = NOTHING
        for one in self.lives:
            is_due = Q(used__gte=one.life)
            if one.unit == LifeUnit.MONTHS:
                is_due = Q(fitted_on__lte=last_fitted_due(day, one.life))
            due |= Q(life_id=one.pk) & is_due
        return rows.filter(due)

    def by_meter(self, rows):
        """Keep what has a life in hours or cycles, a reading, and some of its life left."""
        left = NOTHING
        for one in self.lives:
            if one.unit != LifeUnit.MONTHS:
                left |= Q(life_id=one.pk, used__lt=one.life)
        return rows.filter(left)

    def undecided(self, rows):
        """Keep what has a life in hours or cycles and no reading."""
        return rows.exclude(life_unit=LifeUnit.MONTHS).filter(used=None)

    def life_of(self, component):
        """The life that counts for a component of `components`."""
        return self.by_key[component.life_id]

    def due(self, component):
        """When a component of `components` is due."""
        life = self.life_of(component)
        return due_of(component.fitted_on, life.life, life.unit, component.used, component.read_on)

    def _by_life(self, value, output_field):
        """An expression: what the life that counts for a component says, None without one."""
        cases = [When(_is_of(one), then=Value(value(one))) for one in self.lives]
        return Case(*cases, default=Value(None), output_field=output_field) if cases else Value(None, output_field)


def _is_of(life):
    of_kind = Q(kind=life.kind)
    return of_kind & Q(machine__model=life.machine_model_id) if life.machine_model_id else of_kind
