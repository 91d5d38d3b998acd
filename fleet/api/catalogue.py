"""The catalogues of safety features and hazards."""

from ninja import Field, Query, Router, Schema

from fleet.api.access import Token
from fleet.api.paging import paged
from fleet.api.types import Code
from fleet.catalogue import FEATURES, HAZARDS

router = Router(tags=["Catalogues"])
READ = Token("fleet.view_machine")


class SourceOut(Schema):
    title: str
    edition: str
    basis: str = Field(description="Basis of the source: seen, from memory, or common practice without a source.")

    @staticmethod
    def resolve_basis(source):
        return str(source.basis)


class FeatureOut(Schema):
    code: str
    name: str
    does: str
    feature_class: str = Field(description="essential, expected, desirable or unwanted.")
    hazards: list[str]
    needs: list[str] = Field(description="What a machine must have for the safety feature to apply.")
    fulfilled_by: list[str] = Field(description="Other safety features that do the same job.")
    since: str
    can_be_retrofitted: bool
    retrofit_note: str
    source: SourceOut


class HazardOut(Schema):
    code: str
    name: str
    description: str
    weight: float = Field(description="1 to 10, set by policy and used only for ranking.")
    note: str
    source: SourceOut


@router.get("/features", response=list[FeatureOut], auth=READ, summary="Safety features of the catalogue")
@paged
def features(request, hazard: Query[Code | None] = None):
    """In the order of the catalogue; with `hazard`, the safety features that cover it."""
    return [feature for feature in FEATURES.values() if hazard is None or hazard in feature.hazards]


@router.get("/hazards", response=list[HazardOut], auth=READ, summary="Hazards")
@paged
def hazards(request):
    return list(HAZARDS.values())
