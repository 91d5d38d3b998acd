"""Machines with their safety features and components, on any date."""

from django.shortcuts import get_object_or_404
from django.utils import timezone
from ninja import Field, Path, Query, Router, Schema

from fleet.api.access import Token
from fleet.api.circuits import CircuitOut
from fleet.api.machine_answers import ComponentOut, FeatureHistoryOut, MachineDetail, MachineOut, machine_detail
from fleet.api.paging import order_choice, ordered, paged
from fleet.api.problems import Refusal
from fleet.api.types import Day, StatusWord, FeatureCode, FeatureStateWord, Pk, Words
from fleet.circuits.measured_circuit import circuit_as_measured
from fleet.models import Component, FeatureState, Machine

router = Router(tags=["Register"])
READ = Token("fleet.view_machine")
COLUMNS = {"model": "model__name", "area": "area__name", "site": "area__site__name", "duty": "status"}


class MachineFilter(Schema):
    q: Words | None = Field(None, description="Any part of the asset number, serial number, model or location.")
    site: Pk | None = None
    area: Pk | None = None
    model: Pk | None = None
    duty: StatusWord | None = None
    feature: FeatureCode | None = Field(None, description="With this safety feature in the state `state`.")
    state: FeatureStateWord | None = Field(None, description="Of `feature`; “not fitted” unless given.")
    on: Day | None = Field(None, description="The date to which `feature` and `state` apply; today unless given.")

    def narrow(self, machines):
        """Return the machines that match the filter. Raise Refusal for a state without a feature."""
        if not self.feature and (self.state or self.on):
            raise Refusal(422, "Name the safety feature as well.", [("query.feature", "needed beside state and on")])
        if self.q:
            machines = machines.found_by(self.q)
        if self.feature:
            machines = machines.with_feature(self.feature, self.state or "not fitted", self.on or timezone.localdate())
        asked = {"area__site": self.site, "area": self.area, "model": self.model, "status": self.duty}
        return machines.filter(**{path: value for path, value in asked.items() if value})


@router.get("/machines", response=list[MachineOut], auth=READ, summary="Machines")
@paged
def machines(
    request,
    filters: Query[MachineFilter],
    order: Query[order_choice("asset_number", "model", "area", "site", "built_year", "duty")] = "asset_number",
):
    """Retired machines are included; filter by `duty` to exclude them."""
    rows = filters.narrow(Machine.objects.visible_to(request.auth.owner).with_place())
    return ordered(rows, order, COLUMNS)


class OnDay(Schema):
    on: Day | None = Field(None, description="Date of the safety features and components; today unless given.")


@router.get("/machines/{int:pk}", response=MachineDetail, auth=READ, summary="A machine on a date")
def machine(request, pk: Path[Pk], day: Query[OnDay]):
    found = visible_machine(request, pk)
    return machine_detail(found, day.on or found.site.date_of(timezone.now()))


@router.get(
    "/machines/{int:pk}/features", response=list[FeatureHistoryOut], auth=READ, summary="History of safety features"
)
@paged
def feature_history(
    request,
    pk: Path[Pk],
    feature: Query[FeatureCode | None] = None,
    order: Query[order_choice("from_date")] = "-from_date",
):
    """Every recorded state with its dates, its evidence and the person who recorded it."""
    rows = FeatureState.objects.filter(machine=visible_machine(request, pk)).select_related("by")
    return ordered(rows.filter(feature=feature) if feature else rows, order)


@router.get(
    "/machines/{int:pk}/components",
    response=list[ComponentOut],
    auth=READ,
    summary="Components, including removed ones",
)
@paged
def components(request, pk: Path[Pk], order: Query[order_choice("label", "kind", "fitted_on")] = "label"):
    return ordered(Component.objects.filter(machine=visible_machine(request, pk)), order)


def visible_machine(request, pk):
    return get_object_or_404(Machine.objects.visible_to(request.auth.owner).with_place(), pk=pk)


@router.get("/machines/{int:pk}/circuit", response=CircuitOut, auth=READ, summary="Gas circuit of a machine on a date")
def circuit(request, pk: Path[Pk], day: Query[OnDay]):
    """The machine's own circuit, or that of its model. Empty if no circuit is recorded; `problems` lists its faults."""
    machine = visible_machine(request, pk)
    today = machine.site.date_of(timezone.now())
    return CircuitOut.of(circuit_as_measured(machine, day.on or today, today=today))
