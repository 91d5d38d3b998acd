from datetime import date

import pytest

from fleet.models import InstrumentScale
from inspections import bench
from inspections.actions import set_limit_override
from inspections.at_bench.evaluation import Evaluator, bench_scale, build_sheet
from inspections.at_bench.slots import find_named_slot, find_slot
from inspections.errors import ReadingRefused
from inspections.models import InspectionStep, Reading
from tests.factories import NOON, make_component, make_model
from tests.inspections.scenes import make_scene

REGULATOR = """
code = "yearly"
title = "Regulators"
[[step]]
code = "regulator"
title = "Cylinder regulator"
test = "regulator"
component = "pressure-regulator"
[[step]]
code = "cut"
title = "Cut"
test = "supply-failure"
each = "other gas"
"""
OWN_LIMIT = """
code = "yearly"
title = "With a limit of its own"
[[step]]
code = "supply-failure"
title = "Oxygen supply failure"
test = "supply-failure"
gas = "nitrous-oxide"
rules = {trip_pressure = "ours"}
[[step.limit]]
key = "trip_pressure"
rule = "ours"
title = "Ours"
lower = 100
upper = 150
unit = "kPa"
source = "Procedure of the test"
basis = "local"
"""
OVERRIDE = {
    "test_code": "supply-failure",
    "result_key": "trip_pressure",
    "reason": "Trips late by design",
    "source": "Service manual 4.2",
    "from_date": date(2026, 1, 1),
    "by": None,
    "at": NOON,
}


def result_of(scene, code="supply-failure"):
    return Evaluator(scene.inspection).evaluate(scene.step(code))


def trip(scene):
    return result_of(scene).evaluation.result("trip_pressure")


class TestSheet:
    def test_rows_count_as_on_the_page_with_empty_ones_between(self, scene):
        scene.cell(0, "flow", "4", unit="L/min")
        scene.cell(3, "flow", "1", unit="L/min")
        rows = build_sheet(scene.step(), Reading.objects.current()).tables["falling"]
        assert [sorted(row) for row in rows] == [["flow"], [], [], ["flow"]]

    def test_choices_are_those_made_else_the_procedure_s_else_the_default(self, scene):
        assert build_sheet(scene.step(), []).choices == {"kind": "unknown"}
        scene.enter("kind", "proportional")
        assert build_sheet(scene.step(), Reading.objects.all()).choices == {"kind": "proportional"}
        assert build_sheet(scene.step("alarm"), []).choices == {"wanted": "yes"}
        chosen = InspectionStep(test_code="supply-failure", content={"choices": {"kind": "proportional"}})
        assert build_sheet(chosen, []).choices == {"kind": "proportional"}

    def test_a_reading_keeps_value_unit_zero_and_instrument(self, scene):
        kept = scene.enter("full_pressure", "450.50", unit="kPa", zero="absolute", instrument=scene.gauge)
        assert build_sheet(scene.step(), [kept]).values["full_pressure"] == bench.Reading(
            450.5, "kPa", bench.Zero.ABSOLUTE, scene.gauge.code
        )

    def test_yes_counts_one_and_no_counts_zero(self, scene):
        kept = scene.enter("seen", "no", code="alarm")
        assert build_sheet(scene.step("alarm"), [kept]).values["seen"].value == 0


def test_an_incomplete_step_says_what_is_missing(scene):
    scene.enter("full_pressure", "50", unit="psi")
    result = result_of(scene)
    assert not result.is_complete
    assert "Flow of the other gas at the start" in result.evaluation.missing


def test_a_reading_that_cannot_be_is_told_with_its_place(scene):
    scene.sweep()
    scene.cell(5, "pressure", "60", unit="psi")
    scene.cell(5, "flow", "0", unit="L/min")
    result = result_of(scene)
    assert result.error_key == "falling[6].pressure"
    assert not result.is_complete


def test_the_context_holds_the_conditions_of_the_day(scene):
    """20 °C is 273.15 K + 20 by definition (SI brochure, 2.3.1)."""
    context = Evaluator(scene.inspection).context(scene.step())
    assert context.temperature_k == pytest.approx(293.15)
    assert context.ambient_pa_abs == scene.machine.site.ambient_pa_abs
    assert context.built_year == scene.machine.built_year


def test_the_unit_of_entry_does_not_change_trip_or_decision(scene):
    scene.sweep()
    in_psi = trip(scene)
    Reading.objects.all().delete()
    # 1 psi = 6.894757 kPa (NIST SP 811, appendix B.8)
    rows = [(f"{p * 6.894757:.4f}", f) for p, f in [(45, "4.0"), (35, "4.0"), (26, "3.6"), (24, "0.4"), (20, "0.0")]]
    scene.sweep([])
    scene.enter("full_pressure", f"{50 * 6.894757:.4f}", unit="kPa", instrument=scene.gauge)
    for row, (pressure, flow) in enumerate(rows):
        scene.cell(row, "pressure", pressure, unit="kPa", instrument=scene.gauge)
        scene.cell(row, "flow", flow, unit="L/min", instrument=scene.flowmeter)
    assert trip(scene).value_si == pytest.approx(in_psi.value_si, rel=1e-5)
    assert trip(scene).decision == in_psi.decision


class TestLimits:
    def test_the_procedure_s_own_limit_is_applied_by_its_rule(self, db, tmp_path):
        scene = make_scene(tmp_path, text=OWN_LIMIT)
        scene.sweep()
        limit = trip(scene).limit
        assert (limit.rule, limit.lower_si, limit.upper_si) == ("ours", pytest.approx(100e3), pytest.approx(150e3))
        assert trip(scene).decision == bench.Decision.FAIL  # 25 psi is 172 kPa

    def test_the_machine_model_s_limit_comes_before_the_site_s(self, scene):
        set_limit_override(site=scene.machine.site, lower=1, upper=2, unit="psi", **OVERRIDE)
        scene.sweep()
        assert trip(scene).limit.rule == "site"
        set_limit_override(machine_model=scene.machine.model, lower=10, upper=60, unit="psi", **OVERRIDE)
        limit = trip(scene).limit
        assert (limit.rule, limit.source, limit.basis) == ("model", "Service manual 4.2", "local")
        assert "Trips late by design" in limit.note

    @pytest.mark.parametrize("dates", [{"from_date": date(2026, 11, 3)}, {"until_date": date(2026, 11, 2)}])
    def test_a_limit_not_in_force_on_the_day_is_not_applied(self, scene, dates):
        set_limit_override(site=scene.machine.site, lower=1, upper=2, unit="psi", **{**OVERRIDE, **dates})
        scene.sweep()
        assert trip(scene).limit.rule != "site"

    def test_a_limit_of_another_model_or_site_is_not_applied(self, scene):
        set_limit_override(machine_model=make_model(), lower=1, upper=2, unit="psi", **OVERRIDE)
        scene.sweep()
        assert trip(scene).limit.rule not in ("model", "site")


class TestRated:
    def test_a_step_on_a_component_takes_the_rated_values_of_that_component(self, db, tmp_path):
        scene = make_scene(tmp_path, text=REGULATOR)
        component = make_component(scene.machine, label="Yoke 1", rated={"outlet": [45, "psi"]})
        scene.again(at=NOON)
        step = scene.inspection.steps.get(code="regulator")
        assert step.component == component
        # 45 psi = 310.264 kPa (NIST SP 811, appendix B.8)
        assert Evaluator(scene.inspection).context(step).rated == {"outlet": pytest.approx(310_264, abs=1)}

    def test_a_step_on_a_gas_takes_those_of_the_components_of_that_gas(self, db, tmp_path):
        scene = make_scene(tmp_path, text=REGULATOR)
        make_component(scene.machine, gas="nitrous-oxide", rated={"supply": [400, "kPa"]})
        make_component(scene.machine, gas="oxygen", rated={"supply": [350, "kPa"]})
        scene.again(at=NOON)
        step = scene.inspection.steps.get(code="cut", subject="nitrous-oxide")
        assert Evaluator(scene.inspection).context(step).rated == {"supply": pytest.approx(400e3)}


def test_a_scale_in_cmh2o_becomes_pascal():
    """1 cmH2O = 98.0665 Pa (NIST SP 811, appendix B.8, conventional water)."""
    stored = InstrumentScale(
        dimension="pressure", unit="cmH2O", low=-20, high=100, resolution=0.1, of_reading_percent=1, absolute=0.5
    )
    scale = bench_scale(stored)
    assert (scale.low_si, scale.high_si) == (pytest.approx(-1961.33), pytest.approx(9806.65))
    assert scale.resolution_si == pytest.approx(9.80665)
    assert scale.accuracy.absolute_si == pytest.approx(49.03325)
    assert scale.accuracy.of_reading == pytest.approx(0.01)


def test_a_temperature_scale_keeps_its_step_and_moves_its_ends():
    """0 °C is 273.15 K and a step of 1 °C is 1 K (SI brochure, 2.3.1)."""
    stored = InstrumentScale(dimension="temperature", unit="°C", low=0, high=50, resolution=0.1, absolute=0.2)
    scale = bench_scale(stored)
    assert (scale.low_si, scale.high_si) == (pytest.approx(273.15), pytest.approx(323.15))
    assert (scale.resolution_si, scale.accuracy.absolute_si) == (pytest.approx(0.1), pytest.approx(0.2))


def test_a_name_in_a_form_and_a_place_stand_for_each_other(scene):
    for name in ("full_pressure", "kind", "falling.7.pressure"):
        assert find_named_slot(scene.step(), name).name == name
    with pytest.raises(ReadingRefused):
        find_slot(scene.step("alarm"), "wanted")


def test_evaluating_costs_the_same_queries_for_many_steps(scene, django_assert_num_queries):
    scene.sweep()
    evaluator = Evaluator(scene.inspection)
    steps = list(scene.inspection.steps.select_related("component"))
    with django_assert_num_queries(1):  # the components of the machine, once
        for step in steps:
            evaluator.evaluate(step, [])
