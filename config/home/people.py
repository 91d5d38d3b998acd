"""The part of the home page of whoever looks after accounts."""

from django.urls import reverse

from config.home.items import Part, listed
from fleet.lockout import locked_until
from fleet.models import Person


def chief_part(person, now, today):
    """Who is locked out, and whose account cannot be used yet."""
    people = Person.objects.visible_to(person)
    locked = locked_until(people.values("username"), now)
    active = people.filter(is_active=True)
    items = (
        listed(
            active.filter(username__in=list(locked)),
            "account is locked for a while after wrong passwords",
            "accounts are locked for a while after wrong passwords",
            _account,
            urgent=True,
        ),
        listed(
            active.filter(groups=None, is_superuser=False),
            "account is in no group and can read nothing",
            "accounts are in no group and can read nothing",
            _account,
        ),
        listed(
            active.filter(last_login=None),
            "account was never signed in with",
            "accounts were never signed in with",
            _account,
        ),
    )
    return Part("Planner-in-chief", items, links=(("People and their accounts", reverse("fleet:people")),))


def _account(person):
    return str(person), person.get_absolute_url()
