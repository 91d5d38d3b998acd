"""Gas monitors against worked rows, CoolProp and a simulation, and what must hold for any certified gas."""

from dataclasses import replace

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from fleet.catalogue.atmosphere import ambient_pressure_pa_abs
from inspections.bench import BenchError, Decision, Reading, Reason, Sheet, Zero, from_si, to_si
from inspections.bench.monitor_bands import MONITORED, fraction_of, partial_pressure_of
from tests.inspections.bench.making import context, evaluate, flow, limit, rows, shown
from tests.inspections.bench.sound_sheets import CREDIT, figures, gas_monitor, percent

MMHG = 133.322387415
KINDS = st.sampled_from(["dry", "saturated"])


def capnograph(read, certified=5.0, certificate=1.0, surroundings=None, **choices):
    given_sheet = gas_monitor(certificate, span={"co2": (certified, read)}, **choices)
    return evaluate("gas-monitor", given_sheet, surroundings)


# Source: bands of ISO 80601-2-55 in the reference values, section 9 (from memory): a + b x reference
@pytest.mark.parametrize(
    ("gas", "reference", "band"),
    [("co2", 5, 0.83), ("co2", 0, 0.43), ("n2o", 50, 6), ("agent", 2, 0.5), ("agent", 8, 1.4), ("oxygen", 21, 3.025),
     ("oxygen", 100, 5)],
)  # fmt: skip
def test_the_band_is_taken_at_the_certified_concentration(gas, reference, band):
    judge = MONITORED[gas].limit(reference / 100)
    assert [from_si(end, "%") for end in (judge.lower_si, judge.upper_si)] == approx([-band, band])
    assert judge.basis == "from memory"


def test_the_band_is_named_as_the_standard_writes_it():
    assert MONITORED["co2"].limit(0.05).title == "0.43 % + 8 % of the reference"


def test_a_capnograph_by_hand():
    """5.00 % ± 1 % of it is ± 0.05 %, u 0.025 %. Band 0.43 + 8 % of 5 = 0.83 %. Reading 5.75 %: error 0.75, inside by
    0.08 > 0.05: pass. 5.80: inside by 0.03 < 0.05: conditional. 5.90: outside by 0.07: fail.
    """
    found = capnograph(5.75)
    assert shown(found, "co2_error") == approx(0.75)
    assert from_si(found.result("co2_error").expanded_uncertainty_si, "%") == approx(0.05)
    assert found.result("co2_error").remark == "Carbon dioxide, row 2 (5 %): +0.75 %; the gravest of 2."
    decided = [str(capnograph(one).result("co2_error").decision) for one in (5.75, 5.80, 5.85, 5.90)]
    assert decided == ["pass", "conditional pass", "conditional fail", "fail"]


# Source: Dalton's law by hand. At 760 mmHg 5 % is 38.0 mmHg dry, 0.05 x (760 - 47.12) = 35.6 saturated; at 578.8 mmHg
# (77.16 kPa, 2,240 m, the reference values) 28.9 and 26.6.
@pytest.mark.parametrize(
    ("kpa", "kind", "mmhg"),
    [(101.325, "dry", 38.0), (101.325, "saturated", 35.64), (77.16, "dry", 28.94), (77.16, "saturated", 26.58)],
)
def test_a_partial_pressure_is_of_the_ambient_pressure_of_the_site(kpa, kind, mmhg):
    assert partial_pressure_of(0.05, kpa * 1000, kind) / MMHG == approx(mmhg, abs=0.01)
    columns = {"reference": percent, "certificate": percent, "shown_pressure": lambda value: flow(value, "mmHg")}
    tables = {"co2_pressure": rows(columns, (0, None, 0), (5, 1, mmhg))}
    found = evaluate("gas-monitor", Sheet({}, tables, {"co2_shows": kind}), context(ambient_pa_abs=kpa * 1000))
    assert shown(found, "co2_error") == approx(0, abs=0.002)
    assert any(f"as {mmhg:.1f} mmHg at" in remark for remark in found.remarks)
    assert found.result("co2_error").decision is Decision.PASS


def test_a_pressure_that_was_assumed_for_the_place_is_said_where_a_partial_pressure_rests_on_it():
    assumed = context(assumed={"ambient": "The pressure of the site was taken."})
    for kind, is_said in (("dry", True), ("percent", False)):
        found = capnograph(38, surroundings=assumed, co2_shows=kind)
        assert ("The pressure of the site was taken." in found.assumed) == is_said


def test_water_at_body_temperature_is_that_of_coolprop():
    """Source: CoolProp, IAPWS-95. 101.325 kPa less its vapour pressure at 37 °C bears the dry gas."""
    vapour = PropsSI("P", "T", 310.15, "Q", 1, "Water")
    assert partial_pressure_of(1.0, 101_325, "saturated") == approx(101_325 - vapour, rel=1e-5)


def test_what_reads_right_at_sea_level_is_failed_by_no_altitude():
    """38.0 mmHg taken for 5 % at 2,240 m would be 6.6 %: the site's ambient pressure, not 760 mmHg, turns it."""
    ambient = ambient_pressure_pa_abs(2240)
    assert 100 * fraction_of(38.0 * MMHG, ambient, "dry") == approx(5 * 101_325 / ambient, rel=1e-4)
    right = partial_pressure_of(0.05, ambient, "dry") / MMHG
    for mmhg, decision in ((right, Decision.PASS), (38.0, Decision.FAIL)):
        columns = {"reference": percent, "certificate": percent, "shown_pressure": lambda value: flow(value, "mmHg")}
        tables = {"co2_pressure": rows(columns, (0, None, 0), (5, 1, mmhg))}
        found = evaluate("gas-monitor", Sheet({}, tables, {"co2_shows": "dry"}), context(ambient_pa_abs=ambient))
        assert found.result("co2_error").decision is decision


class TestCertificate:
    """A gas whose own uncertainty takes more than a quarter of the band cannot judge. Source: reference values, 7."""

    # by hand: a quarter of the band is 0.2075 % at 5 % of carbon dioxide (4.15 % of it), 0.125 % at 2 % of an agent
    # (6.25 %), 1.25 % at 100 % of oxygen (1.25 %), 1.5 % at 50 % of nitrous oxide (3 %)
    @pytest.mark.parametrize(
        ("gas", "span", "most"), [("co2", 5, 4.15), ("agent", 2, 6.25), ("oxygen", 100, 1.25), ("n2o", 50, 3)]
    )
    def test_up_to_a_quarter_of_the_band_it_judges(self, gas, span, most):
        close = {key: one for key, one in gas_monitor(0.1, span={gas: (span, span)}, monitor="all").tables.items()}
        for certificate, judges in ((most * 0.99, True), (most * 1.01, False)):
            table = gas_monitor(certificate, span={gas: (span, span)}, monitor="all").tables[gas]
            found = evaluate("gas-monitor", Sheet({}, {**close, gas: table}, {"monitor": "all"})).result(f"{gas}_error")
            assert (found.decision in CREDIT) == judges
            if not judges:
                assert (found.decision, found.reason) == (Decision.NOT_DECIDED, Reason.TOO_COARSE)
                assert "more than a quarter of the" in found.why

    @given(figures(0, 20), figures(4.2, 50))
    def test_whatever_the_monitor_shows_a_coarse_gas_decides_nothing(self, read, certificate):
        found = capnograph(read, certificate=certificate).result("co2_error")
        assert found.decision is Decision.NOT_DECIDED

    def test_it_is_said_before_the_monitor_is_read(self):
        given_sheet = gas_monitor(10)
        unread = tuple({key: one for key, one in row.items() if key != "shown"} for row in given_sheet.tables["co2"])
        found = evaluate("gas-monitor", replace(given_sheet, tables={"co2": unread}))
        assert found.results == () and len(found.missing) == 2
        (remark,) = [one for one in found.remarks if "cannot judge" in one]
        assert remark.startswith("Carbon dioxide, row 2 (5 %): the gas is certified to ± 0.5 %, more than a quarter")

    def test_without_one_the_sheet_is_not_complete_and_none_is_exact(self):
        found = capnograph(5, certificate=None)
        assert found.missing == ("Carbon dioxide, row 2: relative uncertainty of the certificate",)
        with pytest.raises(BenchError, match="± 0 % is none"):
            capnograph(5, certificate=0)

    def test_a_closer_limit_of_the_machine_needs_a_closer_gas(self):
        own = context(limits={"co2_error": limit(-0.002, 0.002, key="co2_error", unit="%")})
        assert capnograph(5, surroundings=own).result("co2_error").decision is Decision.PASS
        assert capnograph(5, certificate=1.1, surroundings=own).result("co2_error").decision is Decision.NOT_DECIDED

    def test_a_limit_without_any_width_leaves_no_room_for_a_certificate(self):
        own = context(limits={"co2_error": limit(None, 0, key="co2_error", unit="%")})
        assert capnograph(4.9, surroundings=own).result("co2_error").decision is Decision.NOT_DECIDED


def test_the_zero_of_a_partial_pressure_is_not_asked_for():
    """A figure in mmHg is a partial pressure, whether the form sends gauge or absolute with it."""
    found = []
    for zero in (None, Zero.GAUGE, Zero.ABSOLUTE):
        row = {"reference": percent(5), "certificate": percent(1), "shown_pressure": Reading(37, "mmHg", zero)}
        given_sheet = Sheet({}, {"co2_pressure": ({"reference": percent(0), "shown_pressure": Reading(0, "mmHg", zero)},
                                                  row)}, {"co2_shows": "dry"})  # fmt: skip
        found.append(evaluate("gas-monitor", given_sheet).results)
    assert found[0] == found[1] == found[2]


@given(figures(3, 10), figures(2, 12), st.sampled_from(["mmHg", "kPa", "mbar", "cmH2O"]), KINDS)
def test_the_unit_of_entry_does_not_matter(certified, read, unit, kind):
    def found(mmhg_in, reference):
        row = {"reference": reference, "certificate": percent(1), "shown_pressure": mmhg_in}
        return evaluate("gas-monitor", Sheet({}, {"co2_pressure": (row,)}, {"co2_shows": kind})).result("co2_error")

    mmhg = read / 100 * 760
    plain = found(flow(mmhg, "mmHg"), percent(certified))
    other = found(flow(from_si(to_si(mmhg, "mmHg"), unit), unit), flow(certified * 1e4, "ppm"))
    assert (other.value_si, other.std_uncertainty_si) == (approx(plain.value_si), approx(plain.std_uncertainty_si))
    assert other.decision == plain.decision


@given(st.sampled_from(sorted(MONITORED)), st.floats(0.01, 0.9), st.floats(-0.009, 0.09))
def test_the_error_rises_with_the_reading_and_its_limits_bracket_zero(gas, reference, away):
    judge = MONITORED[gas].limit(reference)
    assert judge.lower_si == approx(-judge.upper_si) and judge.upper_si > 0
    assert MONITORED[gas].limit(reference * 1.1).upper_si > judge.upper_si


@given(st.floats(0.001, 0.9), st.floats(60_000, 104_000), KINDS)
def test_fraction_and_partial_pressure_turn_into_each_other(fraction, ambient, kind):
    there = partial_pressure_of(fraction, ambient, kind)
    assert fraction_of(there, ambient, kind) == approx(fraction)
    assert there <= partial_pressure_of(fraction, ambient, "dry") * (1 + 1e-12)


@given(figures(0.01, 3), figures(3.1, 10))
def test_errors_of_the_same_size_to_either_side_are_judged_alike(away, certified):
    above, below = (
        capnograph(certified + sign * min(away, certified), certified).result("co2_error") for sign in (1, -1)
    )
    assert above.decision == below.decision
    assert above.value_si == approx(-below.value_si, abs=1e-9)


def test_the_uncertainty_agrees_with_a_simulation():
    """Source: JCGM 101, 1e5 draws of certificate and ambient pressure, shown saturated at 77 kPa."""
    random, ambient = np.random.default_rng(5), 77_000.0
    true = 0.05 * (1 + 0.005 * random.standard_normal(100_000))
    pressure = ambient + 1000 * random.standard_normal(100_000)
    errors = 28 * MMHG / (pressure - 6282.3) - true
    row = {"reference": percent(5), "certificate": percent(1), "shown_pressure": flow(28, "mmHg")}
    given_sheet = Sheet({}, {"co2_pressure": (row,)}, {"co2_shows": "saturated"})
    found = evaluate("gas-monitor", given_sheet, context(ambient_pa_abs=ambient)).result("co2_error")
    rms = np.sqrt(np.mean((errors - found.value_si) ** 2))
    assert found.std_uncertainty_si == approx(rms, rel=0.02)
    assert np.mean(np.abs(errors - found.value_si) < found.expanded_uncertainty_si) == approx(0.9545, abs=0.005)


def test_every_gas_that_is_monitored_must_be_read():
    found = evaluate("gas-monitor", gas_monitor(monitor="co2"))
    assert not found.missing
    lacking = evaluate("gas-monitor", replace(gas_monitor(monitor="co2"), choices={"monitor": "all"}))
    assert [one.partition(":")[0] for one in lacking.missing] == ["Nitrous oxide", "Anaesthetic agent", "Oxygen"]
