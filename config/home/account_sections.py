"""The sections of Home about accounts: the person's own tokens, and all accounts for their managers."""

from django.db.models import Q
from django.urls import reverse

from config.home.items import Part, listed
from fleet.models import ApiToken, Person
from fleet.people.lockout import locked_until

CHIEFS = 5


def own_part(person):
    """Return a list with one section, the tokens that wait for this person; empty when none waits."""
    waiting = ApiToken.objects.owned_by(person).awaiting_owner()
    if not waiting.exists():
        return []
    item = listed(
        waiting,
        "token, with which a program would act with your rights, needs you to confirm or revoke it",
        "tokens, with which programs would act with your rights, need you to confirm or revoke them",
        lambda token: (token.name, reverse("fleet:own_token_confirm", args=[token.pk])),
        url=reverse("fleet:own_tokens"), label="My tokens", urgent=True,
    )  # fmt: skip
    return [Part("Your account", (item,))]


def chief_part(person, now, today):
    """Return who is locked out, and whose account cannot be used yet."""
    people = Person.objects.visible_to(person)
    locked = locked_until(people.values("username"), now)
    active = people.filter(is_active=True)
    items = (
        listed(
            active.filter(username__in=list(locked)),
            "account is temporarily locked after wrong passwords",
            "accounts are temporarily locked after wrong passwords",
            _account,
            urgent=True,
        ),
        listed(
            active.filter(groups=None, is_superuser=False),
            "account is in no group and has no access",
            "accounts are in no group and have no access",
            _account,
        ),
        listed(
            active.filter(last_login=None),
            "account has never signed in",
            "accounts have never signed in",
            _account,
        ),
    )
    return Part("Planner-in-chief", items, links=(("People and their accounts", reverse("fleet:people")),))


def chiefs_for(person):
    """Return the names of those who can add the person to a group, five at most: the planners-in-chief of its sites."""
    chiefs = Person.objects.filter(is_active=True, groups__name="planner-in-chief")
    own = Q(sites=None) | Q(sites__in=person.site_ids) if person.site_ids else Q()
    return [str(chief) for chief in chiefs.filter(own).distinct().order_by("username")[:CHIEFS]]


def _account(person):
    return str(person), person.get_absolute_url()
