"""Sites and areas."""

from ninja import Field, Query, Router, Schema

from fleet.api.access import Token
from fleet.api.paging import order_choice, ordered, paged
from fleet.api.types import Pk
from fleet.models import Area, Site

router = Router(tags=["Sites and areas"])


class SiteBrief(Schema):
    id: int
    code: str
    name: str


class SiteOut(SiteBrief):
    altitude_m: int = Field(description="Metres above sea level.")
    oxygen_grade: str = Field(description='Oxygen that supplies the site: "oxygen" (99.5 % or more) or "oxygen-93".')
    oxygen_percent: float | None = Field(description="Its percentage by volume, null where none is stated.")
    time_zone: str = Field(description="Name in the IANA time zone list.")
    ambient_pa_abs: float = Field(description="Standard atmospheric pressure at that altitude, Pa absolute.")


class AreaBrief(Schema):
    id: int
    name: str


class AreaOut(AreaBrief):
    site: SiteBrief
    minimum_machines: int
    in_service: int = Field(description="Machines in service now, without those that are lent or at a repair.")


@router.get("/sites", response=list[SiteOut], auth=Token("fleet.view_machine"), summary="Sites")
@paged
def sites(request, order: Query[order_choice("name", "code")] = "name"):
    return ordered(Site.objects.visible_to(request.auth.owner), order)


@router.get("/areas", response=list[AreaOut], auth=Token("fleet.view_machine"), summary="Areas of use")
@paged
def areas(
    request,
    site: Query[Pk | None] = None,
    order: Query[order_choice("name", "site")] = "site",
):
    rows = Area.objects.visible_to(request.auth.owner).with_in_service().select_related("site")
    return ordered(rows.filter(site=site) if site else rows, order, {"site": "site__name"})
