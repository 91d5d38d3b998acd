"""The bench tests by code."""

from collections.abc import Mapping
from types import MappingProxyType

from . import leaks, mixture, observation, pipeline, regulators, single_value, supply_failure, vaporizer, ventilator
from .declarations import Test
from .errors import UnknownTest

_TESTS: tuple[Test, ...] = (
    supply_failure.TEST,
    regulators.REGULATOR,
    pipeline.PIPELINE,
    leaks.MACHINE,
    leaks.BREATHING_SYSTEM,
    mixture.TEST,
    single_value.FLUSH,
    single_value.ANALYSER,
    vaporizer.VAPORIZER,
    ventilator.VENTILATOR,
    observation.TEST,
)

TESTS: Mapping[str, Test] = MappingProxyType({test.code: test for test in _TESTS})


def get_test(code: str) -> Test:
    """Return the test with this code. Raises UnknownTest, which lists the codes."""
    try:
        return TESTS[code]
    except KeyError:
        raise UnknownTest(code, TESTS) from None
