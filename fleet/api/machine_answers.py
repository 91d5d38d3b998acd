"""The API's answers for a machine."""

from datetime import date, datetime

from ninja import Field, Schema

from fleet.api.models import ModelBrief
from fleet.api.places import AreaBrief, SiteBrief
from fleet.machine_page.state_on_day import components_on, status_on, feature_lines


class PersonOut(Schema):
    username: str
    name: str

    @staticmethod
    def resolve_name(person):
        return person["name"] if isinstance(person, dict) else str(person)


class MachineBrief(Schema):
    id: int
    asset_number: str


class MachineOut(MachineBrief):
    serial: str
    model: ModelBrief
    site: SiteBrief
    area: AreaBrief
    built_year: int | None
    in_use_from: date = Field(description="First day of use. The register has no data from before this date.")
    duty: str = Field(alias="status", description="Now: in service, withdrawn or retired.")


class RatedValue(Schema):
    key: str
    value: float
    unit: str = Field(description="A pressure is gauge.")


class ComponentOut(Schema):
    id: int
    kind: str
    label: str
    gas: str
    maker_part: str = Field(alias="part_number")
    serial: str
    lot: str
    rated: list[RatedValue]
    fitted_on: date
    removed_on: date | None

    @staticmethod
    def resolve_rated(component):
        return [{"key": key, "value": value, "unit": unit} for key, (value, unit) in component.rated.items()]


class FeatureOnMachine(Schema):
    feature: str = Field(description="Code in the catalogue.")
    name: str
    feature_class: str = Field(description="essential, expected, desirable or unwanted.")
    state: str = Field(description="fitted, not fitted or not known.")
    since: date | None = Field(description="First day of that state; null where nothing is recorded.")
    evidence: str
    standing: str = Field(
        description="covered, gap, doubt, replaced or does not apply: the meaning of the state on this machine."
    )
    reason: str


class FeatureHistoryOut(Schema):
    feature: str
    state: str
    from_date: date
    until_date: date | None = Field(
        description="First day on which the state no longer applied; null while it applies."
    )
    evidence: str
    note: str
    by: PersonOut | None
    recorded_at: datetime


class MachineDetail(MachineOut):
    on: date = Field(description="The date of the following fields.")
    duty_on_date: str | None = Field(description="Null before the first day of use.")
    note: str
    features: list[FeatureOnMachine]
    components: list[ComponentOut] = Field(description="Components in place on that date.")


def machine_detail(machine, day):
    """Return the machine with its safety features and components on the date `day`; three queries."""
    status_change = status_on(machine, day)
    names = [field.alias or name for name, field in MachineOut.model_fields.items()]
    plain = {name: getattr(machine, name) for name in names}
    return {
        **plain,
        "on": day,
        "duty_on_date": status_change.status if status_change else None,
        "note": machine.note,
        "features": [feature_on_machine(line) for line in feature_lines(machine, day)],
        "components": list(components_on(machine, day)),
    }


def feature_on_machine(line):
    return {
        "feature": line.feature.code,
        "name": line.feature.name,
        "feature_class": str(line.feature.feature_class),
        "state": line.row.state if line.row else "not known",
        "since": line.row.from_date if line.row else None,
        "evidence": line.row.evidence if line.row else "",
        "standing": str(line.judged.standing),
        "reason": line.judged.reason,
    }
