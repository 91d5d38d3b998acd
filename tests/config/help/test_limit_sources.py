"""The page on sources holds every published limit with its basis, and hides none that rests on memory."""

from dataclasses import replace

import pytest
from django.urls import reverse

from config.help.limit_sources import limits_by_basis, sources_by_family, sources_of
from inspections.bench import TESTS
from inspections.bench.limits import COMMON_PRACTICE, FROM_MEMORY, SEEN
from tests.factories import make_person


@pytest.fixture
def page(client, db):
    client.force_login(make_person("technician"))
    return client.get(reverse("help_topic", args=["where-limits-come-from"])).content.decode()


def test_every_test_and_every_source_of_a_limit_is_on_the_page(page):
    for test in TESTS.values():
        assert test.title in page and reverse("inspections:test", args=[test.code]) in page
    rows = page.count("<tr><td>")
    assert rows == sum(len(test.default_limits) for test in TESTS.values())
    assert page.count(f"<b>{FROM_MEMORY}</b>") == dict(limits_by_basis())[FROM_MEMORY]


def test_the_counts_by_basis_are_of_all_limits():
    assert sum(count for _, count in limits_by_basis()) == sum(len(test.default_limits) for test in TESTS.values())
    assert [one.test for tests in sources_by_family().values() for one in tests] != []


@pytest.mark.parametrize("basis", [FROM_MEMORY, COMMON_PRACTICE])
@pytest.mark.parametrize("code", TESTS)
def test_a_result_whose_limits_nobody_saw_is_named_until_one_of_them_was_seen(code, basis):
    test = TESTS[code]
    unseen = replace(test, default_limits=tuple(replace(one, basis=basis) for one in test.default_limits))
    labels = [spec.label for spec in test.results if any(one.key == spec.key for one in test.default_limits)]
    assert list(sources_of(unseen).weak) == labels
    if labels:
        first = replace(unseen.default_limits[0], basis=SEEN)
        seen = replace(unseen, default_limits=(first, *unseen.default_limits[1:]))
        left = {spec.label for spec in test.results if spec.key == first.key}
        assert set(sources_of(seen).weak) == set(labels) - left
