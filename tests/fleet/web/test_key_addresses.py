"""An address with a key is what Django makes of it."""

import pytest
from django.test import override_settings
from django.urls import NoReverseMatch, get_script_prefix, reverse, set_script_prefix

from fleet.web.key_addresses import key_address

NAMES = ("fleet:machine", "inspections:inspection", "fleet:api_token_revoke")


@pytest.mark.parametrize("name", NAMES)
def test_it_is_the_address_that_django_makes(name):
    assert [key_address(name, key) for key in (1, 20, 7**20)] == [reverse(name, args=[k]) for k in (1, 20, 7**20)]


def test_it_follows_where_the_program_is_served_and_which_addresses_it_has():
    before, known = get_script_prefix(), key_address(NAMES[0], 5)
    try:
        set_script_prefix("/bobbin/")
        assert key_address(NAMES[0], 5) == reverse(NAMES[0], args=[5]) == f"/bobbin{known}"
    finally:
        set_script_prefix(before)
    with override_settings(ROOT_URLCONF="tests.benchmarks.urls"):
        assert key_address(NAMES[0], 5) == known


def test_a_name_without_a_key_and_a_key_that_is_no_number_are_refused():
    with pytest.raises(NoReverseMatch):
        key_address("fleet:machines", 5)
    with pytest.raises(ValueError, match="format"):
        key_address(NAMES[0], "5/../..")
