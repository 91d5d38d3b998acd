"""Questions about machines and their models, as QuerySet methods that read as English."""

from dataclasses import dataclass
from functools import reduce
from operator import or_

from django.apps import apps
from django.db import models
from django.db.models import Count, Exists, OuterRef, Q
from django.db.models.functions import Coalesce

from fleet.acting.querysets import JournaledQuerySet
from fleet.late import LateModule
from fleet.models.querysets.among_keys import among
from fleet.models.querysets.area_periods import area_on, site_on
from fleet.models.querysets.scoped import SiteScopedQuerySet

reading = LateModule("fleet.current_state.reading")  # which imports the models

FEW = 1_500  # keys that a statement names: SQLite takes 32,766 values. Source: sqlite.org/limits.html, 9
MOST = 3  # one machine found among so many


class MachineQuerySet(SiteScopedQuerySet):
    site_path = "area__site"

    def in_service(self):
        return self.filter(status="in service")

    def at_hand(self):
        """Return the machines in service that are there: neither lent nor at a repair outside."""
        away = apps.get_model("fleet", "AwayPeriod").objects.now().filter(machine=OuterRef("pk"))
        return self.in_service().exclude(Exists(away))

    def withdrawn(self):
        return self.filter(status="withdrawn")

    def not_retired(self):
        return self.exclude(status="retired")

    def with_place(self):
        return self.select_related("model", "area__site")

    def with_area_on(self, day):
        """Annotate `area_then` and `site_then`: the keys of the area and the site where each machine was on `day`."""
        return self.annotate(area_then=area_on(day), site_then=site_on(day))

    def visible_on(self, person, day):
        """Return the machines that were on `day` at a site that `person` may see; annotated as by `with_area_on`."""
        machines = self.with_area_on(day)
        return machines.filter(site_then__in=person.site_ids) if person.site_ids else machines

    def with_feature(self, code, state, on):
        """Return machines whose feature `code` is in `state` on the date `on`; not known includes never recorded."""
        FeatureState = apps.get_model("fleet", "FeatureState")
        told = FeatureState.objects.on(on).filter(machine=OuterRef("pk"), feature=code)
        if state == "not known":
            return self.filter(~Exists(told) | Exists(told.filter(state=state)))
        return self.filter(Exists(told.filter(state=state)))

    def with_missing_essential(self, on):
        """Prefetch `missing_essential`: the essential features recorded as not fitted on the date `on` that apply."""
        FeatureState = apps.get_model("fleet", "FeatureState")
        missing = FeatureState.objects.missing_essential(on)
        return self.prefetch_related(models.Prefetch("feature_states", queryset=missing, to_attr="missing_essential"))

    def with_missing_count(self, on):
        """Annotate `missing_count`: how many essential features are missing on the date `on`, to sort by."""
        FeatureState = apps.get_model("fleet", "FeatureState")
        missing = FeatureState.objects.missing_essential(on).filter(machine=OuterRef("pk")).order_by()
        counted = missing.values("machine").annotate(n=Count("pk")).values("n")
        return self.annotate(missing_count=Coalesce(models.Subquery(counted), 0))

    def bearing(self, text):
        """Return the machines whose asset number is `text`, else those whose serial number is."""
        by_asset_number = self.filter(asset_number__iexact=text)
        return by_asset_number if by_asset_number.exists() else self.filter(serial__iexact=text)

    def numbered(self, text):
        """Return the machines whose asset number or serial contains `text`."""
        return self.filter(Q(asset_number__icontains=text) | Q(serial__icontains=text))

    def found_by(self, text):
        """Return the machines whose asset number, serial, model or location contains `text`."""
        return self.filter(Q(asset_number__icontains=text) | Q(serial__icontains=text) | named(text))


@dataclass(frozen=True, slots=True)
class Found:
    """What a search found among all machines, read once, however often a page asks about their rows.

    machines  the question itself
    keys      those of the machines, None where they are more than FEW
    is_most   whether the search seems to find a third of all machines at least, by the first in the order of their
              asset numbers: a row is then asked whether its machine is found, instead of all found machines for theirs
    """

    machines: models.QuerySet
    keys: list[int] | None
    is_most: bool = False


def machines_found(text):
    """Return the machines found by `text`; their texts are read from the current states, where these are kept."""
    every = apps.get_model("fleet", "Machine").objects
    return _found(every.found_by(text), lambda: _first_found(text, known_as(text)))


def machines_numbered(text):
    """Return the machines whose asset number, serial or name of model contains `text`, in the same way."""
    every = apps.get_model("fleet", "Machine").objects
    models = apps.get_model("fleet", "MachineModel").objects.filter(name__icontains=text).order_by()
    rows = every.filter(Q(asset_number__icontains=text) | Q(serial__icontains=text) | Q(model__in=models.values("pk")))
    return _found(rows, lambda: _first_found(text, Q(model__in=list(models.values_list("pk", flat=True)))))


def _found(machines, first_found):
    machines = machines.order_by()
    first = first_found() if reading.is_kept() else _first_of(machines)
    if len(first) <= FEW:
        return Found(machines, [pk for pk, _ in first])
    up_to = machines.model.objects.filter(asset_number__lte=first[-1][1]).order_by()
    return Found(machines, None, up_to.values("pk")[: MOST * FEW + 1].count() <= MOST * FEW)


def _first_of(machines):
    """Return key and asset number of the first machines, one more than FEW at most."""
    return list(machines.order_by("asset_number").values_list("pk", "asset_number")[: FEW + 1])


def _first_found(text, known):
    """Return the same of those found by `text`, or by the condition on models and areas, unless that is None."""
    rows = apps.get_model("fleet", "CurrentState").objects.with_text(text, known).order_by("searched")
    return [(pk, searched.partition("\n")[0]) for pk, searched in rows.values_list("pk", "searched")[: FEW + 1]]


def on_found(rows, found):
    """Keep the rows whose `machine` is one of a Found."""
    return rows.filter(is_on(found))


def is_on(found):
    """Return the condition that the `machine` of a row is one of a Found."""
    if found.keys is not None:
        return Q(among("machine", found.keys))
    if found.is_most:
        return Q(Exists(found.machines.filter(pk=OuterRef("machine"))))
    return Q(machine__in=found.machines.values("pk"))


def found_keys(text):
    """Return the keys of the machines found by `text`, None where they are more than FEW."""
    return machines_found(text).keys


def named(text):
    """Return the condition that the model, the area or the site of a row is called so.

    Asked of the few models and areas, not of those of each machine, which are joined for every row otherwise.
    """
    models, areas = _named_so(text)
    return Q(model__in=models.values("pk")) | Q(area__in=areas.values("pk"))


def known_as(text):
    """Return the same condition with the keys of the models and areas; None where none is called so."""
    models, areas = (list(rows.values_list("pk", flat=True)) for rows in _named_so(text))
    found = [Q(**{f"{path}__in": keys}) for path, keys in (("model", models), ("area", areas)) if keys]
    return reduce(or_, found) if found else None


def _named_so(text):
    models, areas = (apps.get_model("fleet", name).objects.order_by() for name in ("MachineModel", "Area"))
    models = models.filter(Q(name__icontains=text) | Q(manufacturer__icontains=text))
    return models, areas.filter(Q(name__icontains=text) | Q(site__name__icontains=text))


class MachineModelQuerySet(JournaledQuerySet):
    def that_give_vapour(self):
        """Return the models that have a place for a vaporizer."""
        return self.filter(vaporizer_positions__gt=0)

    def with_status_counts(self, person):
        """Annotate `in_service`, `withdrawn` and `retired`: machines that `person` may see."""
        mine = Q(machines__area__site__in=person.site_ids) if person.site_ids else Q()
        return self.annotate(
            **{
                status.replace(" ", "_"): Count("machines", filter=mine & Q(machines__status=status))
                for status in ("in service", "withdrawn", "retired")
            }
        )
