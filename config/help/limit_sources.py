"""What the bench tests rest on, read from their declarations: the sources of their limits, and what has none."""

from collections import Counter
from dataclasses import dataclass

from inspections.at_bench.limit_texts import built_text, limit_text
from inspections.bench import TESTS, Limit, Test
from inspections.bench.limits import LOCAL, SEEN


@dataclass(frozen=True, slots=True)
class SourcedLimit:
    """One published limit in words. `result` is the label of what it judges."""

    result: str
    demand: str
    limit: Limit

    @property
    def built(self) -> str:
        return built_text(self.limit)

    @property
    def edition(self) -> str:
        """Return the edition, empty where there is none or the source names it."""
        return "" if self.limit.edition == "-" or self.limit.edition in self.limit.source else self.limit.edition


@dataclass(frozen=True, slots=True)
class SourcesOfTest:
    """A test with its limits. `weak` and `made` are the labels of results.

    weak  judged, and none of its limits was seen in print or is the department's own
    made  its limit is computed from the settings, and the record names it
    """

    test: Test
    limits: tuple[SourcedLimit, ...]
    weak: tuple[str, ...]
    made: tuple[str, ...]


def sources_by_family() -> dict[str, list[SourcesOfTest]]:
    """Return every bench test by the name of its family, in the order of the registry."""
    found: dict[str, list[SourcesOfTest]] = {}
    for test in TESTS.values():
        found.setdefault(test.family, []).append(sources_of(test))
    return found


def sources_of(test: Test) -> SourcesOfTest:
    labels = {spec.key: spec.label for spec in test.results}
    limits = tuple(SourcedLimit(labels[one.key], limit_text(one), one) for one in test.default_limits)
    known = {one.key for one in test.default_limits if one.basis in (SEEN, LOCAL)}
    judged = {one.key for one in test.default_limits}
    weak = tuple(label for key, label in labels.items() if key in judged - known)
    return SourcesOfTest(test, limits, weak, tuple(spec.label for spec in test.results if spec.own_limit))


def limits_by_basis() -> list[tuple[str, int]]:
    """Return how many published limits have each basis, the most frequent first."""
    return Counter(one.basis for test in TESTS.values() for one in test.default_limits).most_common()
