"""The bench tests by code."""

from collections.abc import Mapping
from types import MappingProxyType

from .declarations import Test
from .errors import UnknownTest

_FAMILIES: tuple[tuple[Test, ...], ...] = ()

TESTS: Mapping[str, Test] = MappingProxyType({test.code: test for family in _FAMILIES for test in family})


def get_test(code: str) -> Test:
    """Return the test with this code. Raises UnknownTest, which lists the codes."""
    try:
        return TESTS[code]
    except KeyError:
        raise UnknownTest(code, TESTS) from None
