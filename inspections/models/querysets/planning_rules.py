"""Questions about planning rules, as QuerySet methods that read as English."""

from django.db.models import Q

from fleet.acting.querysets import JournaledQuerySet


class PlanningRuleQuerySet(JournaledQuerySet):
    def visible_to(self, person):
        """Rules that reach every site, and those about the sites that `person` may see."""
        return self.filter(Q(reach__in=("all", "model", "feature")) | _at(person)) if person.site_ids else self

    def changeable_by(self, person):
        """Somebody limited to sites changes the rules of those; any other rule reaches every site."""
        return self.filter(_at(person)) if person.site_ids else self

    def with_scope(self):
        return self.select_related("procedure", "machine", "machine_model", "area__site", "site", "by", "ended_by")

    def in_force(self, day):
        """In force on the date `day`."""
        return self.filter(Q(until_date=None) | Q(until_date__gt=day), from_date__lte=day)

    def not_ended(self, day):
        """In force on the date `day`, or to come."""
        return self.filter(Q(until_date=None) | Q(until_date__gt=day))

    def followed(self):
        """Those by which the planned inspections are dated now."""
        return self.filter(begun_at__isnull=False, stopped_at=None)

    def to_carry_out(self, day):
        """Those that begin or end on `day` or earlier, by which no planned inspection was moved yet."""
        return self.filter(Q(begun_at=None, from_date__lte=day) | Q(stopped_at=None, until_date__lte=day))

    def asking_for_skills(self):
        return self.exclude(skills="")

    def of_scope(self, rule):
        """Rules for the same procedure and the same machines as `rule`."""
        columns = ("procedure", "reach", "feature", "machine", "machine_model", "area", "site")
        return self.filter(**{name: getattr(rule, name) for name in columns})


class ComponentLifeQuerySet(JournaledQuerySet):
    def in_force(self, day):
        return self.filter(Q(until_date=None) | Q(until_date__gt=day), from_date__lte=day)

    def not_ended(self, day):
        return self.filter(Q(until_date=None) | Q(until_date__gt=day))

    def with_scope(self):
        return self.select_related("machine_model", "by", "ended_by")


def _at(person):
    sites = person.site_ids
    return Q(site__in=sites) | Q(area__site__in=sites) | Q(machine__area__site__in=sites)
