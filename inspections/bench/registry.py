"""The bench tests by code."""

from collections.abc import Mapping
from types import MappingProxyType

from . import (
    alarms,
    apl_valve,
    basal_flow,
    earth_and_insulation,
    flowmeter,
    gas_monitor,
    leakage_currents,
    leaks,
    mixture,
    monitor_readings,
    observation,
    one_way_valves,
    oxygen_analyser,
    pipeline,
    regulators,
    scavenging,
    single_value,
    supply_failure,
    vaporizer,
    ventilator,
)
from .declarations import Test
from .errors import UnknownTest

_TESTS: tuple[Test, ...] = (
    supply_failure.TEST,
    regulators.REGULATOR,
    pipeline.PIPELINE,
    leaks.MACHINE,
    leaks.BREATHING_SYSTEM,
    apl_valve.APL,
    one_way_valves.ONE_WAY,
    scavenging.SCAVENGING,
    mixture.TEST,
    flowmeter.TEST,
    basal_flow.TEST,
    single_value.FLUSH,
    oxygen_analyser.TEST,
    gas_monitor.TEST,
    earth_and_insulation.TEST,
    leakage_currents.TEST,
    vaporizer.VAPORIZER,
    ventilator.VENTILATOR,
    monitor_readings.TEST,
    alarms.TEST,
    observation.TEST,
)

TESTS: Mapping[str, Test] = MappingProxyType({test.code: test for test in _TESTS})


def get_test(code: str) -> Test:
    """Return the test with this code. Raises UnknownTest, which lists the codes."""
    try:
        return TESTS[code]
    except KeyError:
        raise UnknownTest(code, TESTS) from None
