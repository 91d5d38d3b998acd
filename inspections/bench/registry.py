"""The bench tests by code."""

from collections.abc import Mapping
from types import MappingProxyType

from . import (
    absorber,
    alarms,
    apl_valve,
    basal_flow,
    battery,
    breathing_compliance,
    connectors,
    cylinder_content,
    earth_and_insulation,
    exposure,
    flowmeter,
    gas_monitor,
    high_pressure_leak,
    leakage_currents,
    leaks,
    mixture,
    monitor_readings,
    negative_pressure,
    observation,
    one_way_valves,
    oxygen_analyser,
    pipeline,
    pressure_gauge,
    regulators,
    scavenging,
    single_value,
    suction,
    supply_failure,
    two_bag,
    vaporizer,
    vaporizer_safety,
    ventilator,
)
from .declarations import Test
from .equipped import NOTHING, Lacks, equipment_of, on_machine
from .errors import UnknownTest

_TESTS: tuple[Test, ...] = (
    supply_failure.TEST,
    regulators.REGULATOR,
    pipeline.PIPELINE,
    cylinder_content.CONTENT,
    pressure_gauge.GAUGE,
    high_pressure_leak.HIGH_PRESSURE,
    leaks.MACHINE,
    negative_pressure.NEGATIVE_PRESSURE,
    leaks.BREATHING_SYSTEM,
    breathing_compliance.COMPLIANCE,
    apl_valve.APL,
    one_way_valves.ONE_WAY,
    absorber.ABSORBER,
    two_bag.TWO_BAG,
    connectors.CONNECTORS,
    scavenging.SCAVENGING,
    exposure.EXPOSURE,
    suction.SUCTION,
    mixture.TEST,
    flowmeter.TEST,
    basal_flow.TEST,
    single_value.FLUSH,
    oxygen_analyser.TEST,
    gas_monitor.TEST,
    earth_and_insulation.TEST,
    leakage_currents.TEST,
    battery.BATTERY,
    vaporizer.VAPORIZER,
    vaporizer_safety.SAFETY,
    ventilator.VENTILATOR,
    monitor_readings.TEST,
    alarms.TEST,
    observation.TEST,
)

_DECLARED = {test.code: test for test in _TESTS}
TESTS: Mapping[str, Test] = MappingProxyType({test.code: on_machine(test, NOTHING) for test in _TESTS})


def get_test(code: str, lacks: Lacks = NOTHING) -> Test:
    """Return the test with this code, as a machine takes it that is known to lack this equipment and these gases.

    Raises UnknownTest, which lists the codes.
    """
    if code not in TESTS:
        raise UnknownTest(code, TESTS)
    return on_machine(_declared(code), lacks) if lacks else TESTS[code]


def lacking(code: str, lacks: Lacks, chosen: Mapping[str, str] = MappingProxyType({})) -> Lacks:
    """Return what of `lacks` makes a difference to the test with this code. Raises UnknownTest.

    chosen  options by choice that are made already: what they need counts as there
    """
    if code not in TESTS:
        raise UnknownTest(code, TESTS)
    test = _declared(code)
    made = [(spec, chosen[spec.key]) for spec in test.choices if spec.key in chosen]
    there = {one for spec, option in made for one in (*spec.needs, *spec.option_needs.get(option, ()))}
    return (lacks & equipment_of(test)) - there


def _declared(code: str) -> Test:
    """Return a test with all its passages; one that was added while the program runs stands for itself."""
    return _DECLARED.get(code, TESTS[code])
