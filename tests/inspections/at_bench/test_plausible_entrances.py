"""Every way in for a number holds it to the bounds of the catalogue and says what is accepted."""

import pytest

from fleet.actions import add_instrument
from fleet.actions.places import add_site, change_site
from fleet.errors import InstrumentRefused, RegisterRefused
from fleet.forms.fields import QuantityField
from fleet.register_file.cells import READERS, CellRefused
from fleet.register_file.columns import ColumnKind
from fleet.register_file.kinds import INSTRUMENTS
from inspections.actions import open_inspection, plan_inspection, set_limit_override
from inspections.at_bench.procedure_files import read_procedure
from inspections.errors import ProcedureError, ReadingRefused, Refused, StageRefused
from inspections.models import Inspection, Reading
from tests.factories import NOON, TODAY, make_site
from tests.inspections.scenes import enter

SCALE = {"dimension": "pressure", "unit": "kPa", "low": 0.0, "high": 100.0, "resolution": 0.1}
LIMIT = """
code = "x"
title = "X"
[[step]]
code = "flush"
title = "Flush"
test = "oxygen-flush"
[[step.limit]]
key = "flush_flow"
rule = "ours"
title = "Ours"
upper = {upper}
unit = "L/min"
source = "a test"
basis = "local"
"""


@pytest.mark.parametrize("as_read", ["99999999", "-99999999", "0." + "0" * 17 + "1"])
def test_a_reading_that_is_not_plausible_is_refused_with_what_is_accepted(scene, as_read):
    with pytest.raises(ReadingRefused, match=f"{as_read} psi is .*Accepted: .*psi.* Check the unit"):
        enter(scene.step(), "full_pressure", as_read=as_read, unit="psi", by=scene.technician, at=NOON)
    assert not Reading.objects.exists()


@pytest.mark.parametrize(
    ("conditions", "words"),
    [({"ambient_kpa_abs": 1013.0}, "1013 kPa is not plausible. Accepted: 45 to 110 kPa"),
     ({"temperature_c": float("nan")}, "Room temperature: nan .* Accepted: a finite number, 5 to 45")],
)  # fmt: skip
def test_conditions_that_are_not_plausible_are_refused(scene, conditions, words):
    Inspection.objects.all().delete()
    planned = plan_inspection(scene.machine, scene.procedure, due_on=TODAY, by=None, at=NOON)
    with pytest.raises(StageRefused, match=words):
        open_inspection(planned, by=scene.technician, at=NOON, **conditions)


@pytest.mark.parametrize("upper", [1e300, float("inf"), float("nan"), -1e7])
def test_a_limit_that_is_not_plausible_is_refused(scene, upper):
    with pytest.raises(Refused, match="Accepted: "):
        set_limit_override(test_code="oxygen-flush", result_key="flush_flow", reason="r", source="s", from_date=TODAY,
                           by=None, at=NOON, site=scene.machine.site, upper=upper, unit="L/min")  # fmt: skip


@pytest.mark.parametrize("upper", ["1e300", "inf", "nan", '"ten"', "true"])
def test_a_limit_of_a_procedure_file_that_is_not_plausible_is_refused(upper):
    with pytest.raises(ProcedureError, match="not plausible|Accepted: a finite number"):
        read_procedure(LIMIT.format(upper=upper), name="x.toml")


@pytest.mark.parametrize("change", [{"resolution": 1e308}, {"high": float("inf")}, {"coverage_factor": 1e-300}])
def test_an_instrument_that_is_not_plausible_is_refused_by_the_action_itself(db, change):
    with pytest.raises(InstrumentRefused, match="Accepted: "):
        add_instrument(code="G", name="G", site=make_site(), scales=[{**SCALE, **change}], by=None, at=NOON)


def test_an_altitude_that_is_not_plausible_is_refused_by_the_action_itself(db):
    with pytest.raises(RegisterRefused, match="9000 m is not plausible. Accepted: -430 to 5500 m"):
        add_site(code="a", name="A", altitude_m=9000, by=None, at=NOON)
    with pytest.raises(RegisterRefused, match="Accepted: -430 to 5500 m"):
        change_site(make_site(), altitude_m=-500, by=None, at=NOON)


@pytest.mark.parametrize("value", ["1e308", "-1", "nan", "5e-324"])
def test_a_rated_value_that_is_not_plausible_is_refused_by_its_field(value):
    field = QuantityField(["kPa", "psi"], dimension="pressure")
    with pytest.raises(Exception, match="Accepted|is not a number"):
        field.clean([value, "kPa"])


@pytest.mark.parametrize(
    ("written", "unit"), [("MΩ", "MΩ"), ("mΩ", "mΩ"), ("Mohm", "MΩ"), ("kpa", "kPa"), ("uA", "µA")]
)
def test_units_of_a_register_file_keep_capitals_apart_where_they_matter(written, unit):
    assert READERS[ColumnKind.WORD](INSTRUMENTS.columns["unit"], written, None) == unit


def test_a_unit_that_capitals_would_tell_apart_is_not_guessed():
    with pytest.raises(CellRefused, match="more than one way"):
        READERS[ColumnKind.WORD](INSTRUMENTS.columns["unit"], "MOHM", None)
