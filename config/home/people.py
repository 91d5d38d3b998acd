"""The sections of Home about accounts: one's own tokens, and the accounts that a planner-in-chief manages."""

from django.urls import reverse

from config.home.items import Part, listed
from fleet.lockout import locked_until
from fleet.models import ApiToken, Person


def own_part(person):
    """Return a list with one section, the tokens that wait for this person; empty when none waits."""
    waiting = ApiToken.objects.owned_by(person).awaiting_owner()
    if not waiting.exists():
        return []
    item = listed(
        waiting,
        "token, with which a program acts with your rights, waits for you to confirm or revoke it",
        "tokens, with which programs act with your rights, wait for you to confirm or revoke them",
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
