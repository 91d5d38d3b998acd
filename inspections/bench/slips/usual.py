"""What each place usually shows, where nothing was read there before: the typical range of its test.

The figures are what the instructions of the tests ask for and what their limits allow, with room on both sides. They
decide nothing; they only say when to ask. Common practice, no source. Places that may show anything have no entry.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from ..quantities import to_si
from .knowledge import Range


@dataclass(frozen=True, slots=True)
class Usual:
    """A typical range in a unit, and the rated values of a component that come before it, by their keys."""

    low: float
    high: float
    unit: str
    rated: tuple[str, ...] = ()

    @property
    def range(self) -> Range:
        return Range(to_si(self.low, self.unit), to_si(self.high, self.unit))


_PIPELINE = Usual(300, 560, "kPa", ("pipeline_pressure",))
_OUTLET = Usual(240, 420, "kPa", ("output_pressure",))
_CYLINDER = Usual(1000, 16000, "kPa", ("inlet_pressure",))
_SWEPT = Usual(30, 500, "kPa")
_LEAK = Usual(5, 300, "mL/min")
_HELD = Usual(2, 4, "kPa")
_FLOW = Usual(0.3, 11, "L/min")
_ROOM = Usual(15, 30, "°C")
_EARTH = Usual(10, 500, "mΩ")
_INSULATION = Usual(2, 1000, "MΩ")
_LEAKAGE = Usual(1, 1000, "µA")
_MAINS = Usual(90, 260, "V")
_THROUGH = Usual(1, 80, "L/min")
_ACROSS = Usual(0.02, 1, "kPa")
_BREATHS = Usual(6, 40, "1/min")
_AIRWAY = Usual(5, 50, "cmH2O")
_TIDAL = Usual(50, 1200, "mL")
_LEAKS = {
    ("makeup_flow", ""): _LEAK,
    ("makeup_pressure", ""): _HELD,
    ("temperature_start", ""): _ROOM,
    ("temperature_end", ""): _ROOM,
    ("decay", "time"): Usual(5, 300, "s"),
    ("decay", "pressure"): Usual(1, 5, "kPa"),
}

_HELD_30 = Usual(25, 35, "cmH2O")

USUAL: Mapping[str, Mapping[tuple[str, str], Usual]] = {
    "pipeline-supply": {
        ("pressure", ""): _PIPELINE,
        ("flowing_pressure", ""): _PIPELINE,
        ("flow", ""): Usual(8, 15, "L/min"),
    },
    "supply-failure": {
        ("full_pressure", ""): _PIPELINE,
        ("set_flow", ""): Usual(1, 10, "L/min"),
        ("alarm_pressure", ""): Usual(140, 280, "kPa", ("alarm_pressure",)),
        ("alarm_delay", ""): Usual(0.5, 10, "s"),
        ("alarm_duration", ""): Usual(5, 20, "s"),
        ("falling", "pressure"): _SWEPT,
        ("rising", "pressure"): _SWEPT,
        ("falling", "flow"): _FLOW,
        ("rising", "flow"): _FLOW,
    },
    "regulator": {
        ("static_pressure", ""): _OUTLET,
        ("inlet_pressure", ""): _CYLINDER,
        ("lockup_pressure", ""): _OUTLET,
        ("pipeline_pressure", ""): _PIPELINE,
        ("pipeline_flowing_pressure", ""): _PIPELINE,
        ("flowing", "flow"): Usual(1, 15, "L/min"),
        ("flowing", "pressure"): _OUTLET,
        ("creep", "time"): Usual(30, 600, "s"),
        ("creep", "pressure"): _OUTLET,
        ("supply", "inlet"): _CYLINDER,
        ("supply", "outlet"): _OUTLET,
    },
    "low-pressure-leak": {**_LEAKS, ("vaporizers", "flow"): _LEAK, ("vaporizers", "pressure"): _HELD},
    "breathing-system-leak": _LEAKS,
    "cylinder-content": {
        ("pressure", ""): _CYLINDER,
        ("water_capacity", ""): Usual(1, 60, "L"),
        ("gas_temperature", ""): _ROOM,
        ("gross_mass", ""): Usual(2, 120, "kg"),
        ("tare", ""): Usual(2, 100, "kg"),
        ("flow", ""): _FLOW,
        ("driving_flow", ""): Usual(2, 15, "L/min"),
        ("reserve_pressure", ""): Usual(200, 4000, "kPa"),
    },
    "pressure-gauge": {("full_scale", ""): Usual(2, 30_000, "kPa")},
    "high-pressure-leak": {
        ("volume", ""): Usual(2, 1000, "mL"),
        ("decay", "time"): Usual(30, 1200, "s"),
        ("decay", "pressure"): Usual(200, 16_000, "kPa"),
        ("decay", "temperature"): _ROOM,
    },
    "negative-pressure-leak": {
        ("bulb_volume", ""): Usual(20, 300, "mL"),
        ("positions", "watched"): Usual(2, 90, "s"),
        ("positions", "opened"): Usual(0.5, 90, "s"),
        ("positions", "suction"): Usual(30, 120, "cmH2O"),
    },
    "breathing-compliance": {
        ("injected_volume", ""): Usual(20, 1000, "mL"),
        ("injected_after", ""): Usual(2, 40, "cmH2O"),
        ("rigid_volume", ""): Usual(0.5, 12, "L"),
        ("compliance", ""): Usual(0.3, 60, "mL/cmH2O"),
        ("hold_start", ""): _HELD_30,
        ("hold_end", ""): Usual(10, 35, "cmH2O"),
        ("hold_time", ""): Usual(8, 120, "s"),
        ("visible_fall", ""): Usual(0.1, 5, "cmH2O"),
    },
    "apl-valve": {
        ("open", "flow"): _THROUGH,
        ("open", "pressure"): _ACROSS,
        ("settings", "setting"): Usual(0.2, 9, "kPa"),
        ("settings", "opening"): Usual(0.2, 9, "kPa"),
        ("leak_flow", ""): Usual(1, 100, "mL/min"),
        ("leak_pressure", ""): _HELD,
    },
    "one-way-valves": {
        (f"{side}_{field}", column): usual
        for side in ("inspiratory", "expiratory")
        for field, column, usual in (
            ("forward", "flow", _THROUGH),
            ("forward", "pressure", _ACROSS),
            ("reverse_flow", "", Usual(1, 100, "mL/min")),
            ("reverse_pressure", "", Usual(3, 5, "kPa")),
        )
    },
    "scavenging": {
        ("extract_flow", ""): Usual(20, 140, "L/min"),
        ("extract_drop", ""): Usual(0.8, 5, "kPa"),
        ("highest_pressure", ""): Usual(0.02, 2, "kPa"),
        ("inflow", ""): Usual(25, 90, "L/min"),
        ("blocked_pressure", ""): Usual(0.2, 3, "kPa"),
        ("blocked_inflow", ""): Usual(60, 90, "L/min"),
    },
    "oxygen-mixture": {
        ("oxygen_off_set", ""): Usual(1, 10, "L/min"),
        ("grid", "oxygen_set"): _FLOW,
        ("grid", "other_set"): Usual(0.5, 10, "L/min"),
        ("grid", "oxygen_flow"): _FLOW,
        ("grid", "other_flow"): Usual(0.5, 10, "L/min"),
        ("grid", "oxygen_fraction"): Usual(19, 60, "%"),
    },
    "flowmeter": {
        ("full_scale", ""): Usual(0.5, 15, "L/min"),
        ("division", ""): Usual(0.01, 1, "L/min"),
        ("calibration_pressure", ""): Usual(95, 105, "kPa"),
        ("calibration_temperature", ""): Usual(15, 25, "°C"),
        ("errors", "set"): Usual(0.1, 15, "L/min"),
        ("errors", "reference"): Usual(0.1, 15, "L/min"),
    },
    "basal-flow": {("flow", ""): Usual(40, 350, "mL/min")},
    "oxygen-flush": {
        ("flow", ""): Usual(25, 90, "L/min"),
        ("volume", ""): Usual(1, 10, "L"),
        ("time", ""): Usual(2, 20, "s"),
    },
    "vaporizer-output": {
        ("maximum", ""): Usual(4, 18, "%"),
        ("flow", ""): Usual(2, 10, "L/min"),
        ("outputs", "dial"): Usual(0.2, 18, "%"),
        ("outputs", "measured"): Usual(0.1, 25, "%"),
    },
    "vaporizer-safety": {
        ("on_output", ""): Usual(0.2, 18, "%"),
        ("purge_time", ""): Usual(10, 120, "min"),
        ("purge_flow", ""): Usual(2, 15, "L/min"),
    },
    "battery": {
        ("charged_for", ""): Usual(2, 100, "h"),
        ("charge_time", ""): Usual(2, 30, "h"),
        ("run_time", ""): Usual(10, 240, "min"),
        ("rated_time", ""): Usual(20, 240, "min"),
        ("reserve", ""): Usual(1, 60, "min"),
        ("energy", ""): Usual(20, 2000, "Wh"),
        ("rated_energy", ""): Usual(20, 2000, "Wh"),
    },
    "suction": {
        ("vacuum", ""): Usual(20, 90, "kPa"),
        ("free_flow", ""): Usual(15, 80, "L/min"),
        ("rise_time", ""): Usual(0.5, 15, "s"),
        ("timed_to", ""): Usual(20, 60, "kPa"),
    },
    "connectors": {
        ("male", "size"): Usual(8.5, 30, "mm"),
        ("female", "size"): Usual(8.5, 30, "mm"),
        ("pulls", "force"): Usual(10, 120, "N"),
    },
    "exposure": {
        ("gas_time", ""): Usual(10, 600, "min"),
        ("intervals", "duration"): Usual(5, 240, "min"),
        ("intervals", "concentration"): Usual(0.1, 300, "ppm"),
    },
    "two-bag": {("fresh_gas", ""): Usual(4, 10, "L/min"), ("rest_pressure", ""): Usual(0.1, 6, "cmH2O")},
    "absorber": {
        ("inspired", ""): Usual(0.02, 1, "%"),
        ("expired", ""): Usual(3, 7, "%"),
        ("age", ""): Usual(0.5, 60, "d"),
        ("through", "flow"): _THROUGH,
        ("through", "pressure"): _ACROSS,
    },
    "ventilator-volume": {
        ("rate_set", ""): _BREATHS,
        ("rate", ""): _BREATHS,
        ("inspiratory_share", ""): Usual(20, 50, "%"),
        ("fresh_gas", ""): Usual(0.2, 10, "L/min"),
        ("compliance", ""): Usual(0.5, 10, "mL/cmH2O"),
        ("hose_volume", ""): Usual(0.3, 8, "L"),
        ("peep_set", ""): Usual(1, 15, "cmH2O"),
        ("peep", ""): Usual(1, 15, "cmH2O"),
        ("peak", ""): _AIRWAY,
        ("peak_shown", ""): _AIRWAY,
        ("full_scale", ""): Usual(50, 125, "cmH2O"),
        ("volumes", "set"): _TIDAL,
        ("volumes", "measured"): _TIDAL,
        ("volumes", "plateau"): _AIRWAY,
    },
    "gas-monitor": {
        ("response", ""): Usual(0.5, 10, "s"),
        **{(table, "certificate"): Usual(0.2, 5, "%") for table in ("co2", "co2_pressure", "n2o", "agent", "oxygen")},
    },
    "monitor-readings": {
        ("full_scale", ""): Usual(50, 125, "cmH2O"),
        **dict.fromkeys((("volumes", "reference"), ("volumes", "shown")), _TIDAL),
        **dict.fromkeys((("pressures", "reference"), ("pressures", "shown")), Usual(1, 80, "cmH2O")),
    },
    "alarms": {
        **dict.fromkeys((("low_oxygen_trials", "set"), ("low_oxygen_trials", "sounded")), Usual(17, 40, "%")),
        **dict.fromkeys((("high_pressure_trials", "set"), ("high_pressure_trials", "sounded")), Usual(15, 80, "cmH2O")),
        ("high_pressure_trials", "delay"): Usual(0.3, 8, "s"),
        ("continuing_pressure_trials", "delay"): Usual(8, 25, "s"),
        ("low_supply_trials", "delay"): Usual(0.5, 10, "s"),
        **dict.fromkeys((("low_supply_trials", "set"), ("low_supply_trials", "sounded")), Usual(140, 350, "kPa")),
        **dict.fromkeys((("patient_end_delay", ""), ("machine_end_delay", "")), Usual(2, 35, "s")),
    },
    "oxygen-analyser": {
        ("air_reading", ""): Usual(19, 23, "%"),
        ("flush_reading", ""): Usual(85, 100, "%"),
    },
    "earth-and-insulation": {
        **dict.fromkeys((("earth_total", ""), ("earth_total_reversed", ""), ("earth_reference", "")), _EARTH),
        **dict.fromkeys((("earth_device", ""), ("earth_device_reversed", "")), _EARTH),
        **dict.fromkeys((("earth_cord", ""), ("earth_cord_reversed", "")), _EARTH),
        **dict.fromkeys((("insulation", ""), ("insulation_applied", ""), ("insulation_reference", "")), _INSULATION),
        ("test_current", ""): Usual(0.2, 25, "A"),
        ("test_voltage", ""): Usual(250, 500, "V"),
    },
    "leakage-currents": {
        **dict.fromkeys((("mains_voltage", ""), ("nominal_voltage", ""), ("tester_voltage", "")), _MAINS),
        **dict.fromkeys((("equipment_leakage", ""), ("equipment_leakage_reversed", "")), _LEAKAGE),
        **dict.fromkeys((("touch_intact", ""), ("touch_open", ""), ("touch_reference", "")), _LEAKAGE),
        ("equipment_reference", ""): _LEAKAGE,
        **dict.fromkeys((("applied_leakage", ""), ("applied_reference", "")), Usual(1, 5000, "µA")),
    },
}


def usual_of(test_code: str, field: str, column: str = "") -> Usual | None:
    """Return what a place usually shows, None where nothing can be said beforehand."""
    return USUAL.get(test_code, {}).get((field, column))


def ranges_of(test_code: str, field: str, column: str = "", rated: Mapping[str, float] | None = None) -> list[Range]:
    """Return the rated values that a place should show, SI; without one its usual range; none where nothing is said."""
    usual = usual_of(test_code, field, column)
    if usual is None:
        return []
    found = [Range(value, value, "rated") for key in usual.rated if (value := (rated or {}).get(key)) and value > 0]
    return found or [usual.range]
