"""Questions about the end of machines, as QuerySet methods that read as English."""

from django.apps import apps
from django.db.models import Count, IntegerField, OuterRef, Q, Subquery
from django.db.models.functions import Coalesce

from fleet.models.querysets.scoped import MachineRowQuerySet
from inspections.decommissioning.checklist import ITEMS


class DecommissioningAnswerQuerySet(MachineRowQuerySet):
    def with_people(self):
        return self.select_related("by", "proof").defer("proof__content")


def with_answers(machines):
    """Annotate machines with `answered`, how many items of the checklist are answered, and `retired_on`."""
    answers = apps.get_model("inspections", "DecommissioningAnswer").objects.filter(machine=OuterRef("pk"))
    counted = answers.filter(code__in=list(ITEMS)).order_by().values("machine").annotate(n=Count("pk")).values("n")
    changes = apps.get_model("fleet", "StatusChange").objects.filter(machine=OuterRef("pk"), status="retired")
    return machines.annotate(
        answered=Coalesce(Subquery(counted, output_field=IntegerField()), 0),
        retired_on=Subquery(changes.order_by("-changed_on", "-pk").values("changed_on")[:1]),
    )


def with_open_checklist(machines):
    """Keep retired machines, and others whose checklist was begun, of which an item is not answered."""
    begun = Q(status="retired") | Q(answered__gt=0)
    return with_answers(machines).filter(begun, answered__lt=len(ITEMS))
