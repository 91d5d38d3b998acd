"""Machine models, with the safety features of a new machine."""

from datetime import date

from django.shortcuts import get_object_or_404
from ninja import Field, Path, Query, Router, Schema

from fleet.api.access import Token
from fleet.api.paging import order_choice, ordered, paged
from fleet.api.types import Pk
from fleet.models import MachineModel

router = Router(tags=["Register"])


class ModelBrief(Schema):
    id: int
    code: str
    maker: str = Field(alias="manufacturer")
    name: str


class ModelOut(ModelBrief):
    first_built: int | None
    last_built: int | None
    standard: str = Field(description="The machine standard and edition that the model was built to.")
    gases: list[str] = Field(description="Codes of the gases that it can deliver.")
    vaporizer_positions: int
    lacks: list[str] = Field(description="What no machine of this model has.")
    parts_until: date | None = Field(
        description="Approved spare parts and qualified service are available until this date."
    )
    vapour_free_minutes: int | None = Field(
        description="Minutes of purging before a patient who must not breathe vapour, as its source states."
    )
    vapour_free_source: str


class DefaultFeature(Schema):
    feature: str
    state: str


class ModelDetail(ModelOut):
    description: str
    support_note: str
    features: list[DefaultFeature] = Field(description="Safety features of every machine of this model when new.")

    @staticmethod
    def resolve_features(model):
        return list(model.features.all())


@router.get("/models", response=list[ModelOut], auth=Token("fleet.view_machine"), summary="Machine models")
@paged
def machine_models(request, order: Query[order_choice("code", "maker", "name")] = "code"):
    return ordered(MachineModel.objects.all(), order, {"maker": "manufacturer"})


@router.get("/models/{int:pk}", response=ModelDetail, auth=Token("fleet.view_machine"), summary="A machine model")
def machine_model(request, pk: Path[Pk]):
    return get_object_or_404(MachineModel.objects.prefetch_related("features"), pk=pk)
