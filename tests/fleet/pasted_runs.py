"""How each action of pasted lists is run in tests/test_changes.py: what it needs, and the action itself."""

from datetime import timedelta

from fleet.actions import add_people, add_places
from fleet.forms.pasted import NewPerson, NewPlace
from tests.factories import NOON, make_site

AT = NOON + timedelta(days=1)


def places(site, by):
    new = NewPlace(2, "Upper Marl", "Theatre 1", 1, (("altitude_m", 40), ("time_zone", "Europe/Lisbon")))
    add_places([NewPlace(1, site.name, "Theatre 9", 2), new], by=by, at=AT)


PASTED_RUNS = {
    "add_places": (lambda by: make_site(), places),
    "add_people": (
        lambda by: None,
        lambda _, by: add_people([NewPerson(1, "new", "New", "Person", "", ("auditor",), ())], by=None, at=AT),
    ),
}
