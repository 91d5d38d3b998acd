"""The bench tests by code."""

from collections.abc import Mapping
from types import MappingProxyType

from . import (
    apl_valve,
    leaks,
    mixture,
    observation,
    one_way_valves,
    pipeline,
    regulators,
    scavenging,
    single_value,
    supply_failure,
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
    single_value.FLUSH,
    single_value.ANALYSER,
    observation.TEST,
)

TESTS: Mapping[str, Test] = MappingProxyType({test.code: test for test in _TESTS})


def get_test(code: str) -> Test:
    """Return the test with this code. Raises UnknownTest, which lists the codes."""
    try:
        return TESTS[code]
    except KeyError:
        raise UnknownTest(code, TESTS) from None
