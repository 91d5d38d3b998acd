"""Request, list and revoke the tokens of programs. A token works once its owner has confirmed it on a page."""

from datetime import timedelta

from django.conf import settings
from django.contrib.auth.models import Group
from django.core.management.base import BaseCommand, CommandError
from django.urls import reverse
from django.utils import timezone

from fleet.actions import add_token, revoke_token
from fleet.days import day_argument
from fleet.errors import TokenRefused
from fleet.management.arguments import words
from fleet.models import ApiToken, Person


class Command(BaseCommand):
    help = "API tokens of programs: token add, token list, token revoke."

    def add_arguments(self, parser):
        ways = parser.add_subparsers(dest="way", required=True)
        add = ways.add_parser("add", help="request a token, which its owner confirms")
        add.add_argument("name", type=words, help="the program that uses it")
        add.add_argument(
            "--owner", required=True, metavar="USERNAME", help="the person in whose name and at whose sites it acts"
        )
        add.add_argument("--group", required=True, help="one of the owner's groups; the token has its permissions")
        add.add_argument("--until", type=day_argument, metavar="DATE", help="last day; default: a year ahead")
        ways.add_parser("list", help="list every token, without its secret")
        ways.add_parser("revoke", help="revoke a token permanently").add_argument("name")

    def handle(self, *, way, **options):
        today = timezone.localdate()
        try:
            {"add": self._add, "list": self._list, "revoke": self._revoke}[way](today=today, **options)
        except TokenRefused as error:
            raise CommandError(str(error)) from None

    def _add(self, *, name, owner, group, until, today, **options):
        token = add_token(
            name=name,
            owner=_found(Person, "username", owner),
            group=_found(Group, "name", group),
            expires_on=until or today + timedelta(days=365),
            by=None,
            at=timezone.now(),
            today=today,
        )
        page = f"{settings.BASE_URL}{reverse('fleet:own_tokens')}"
        self.stdout.write(
            f"The token “{token}” is requested and not accepted yet. {token.owner} ({token.owner.username}) signs in, "
            f"opens {page}, confirms it with the password and sees its secret there, once. It is then valid until "
            f"{token.expires_on}."
        )

    def _list(self, *, today, **options):
        for token in ApiToken.objects.with_people().in_order().iterator():
            state = _state(token, today)
            used = token.last_used_on or "never used"
            told = (token.name, token.start, token.owner.username, token.group.name, state, token.expires_on, used)
            self.stdout.write("\t".join(str(part) for part in told))

    def _revoke(self, *, name, today, **options):
        token = _found(ApiToken, "name", name)
        revoke_token(token, by=None, at=timezone.now())
        self.stdout.write(f"The token “{token}” is revoked.")


def _state(token, today):
    if token.is_revoked:
        return "revoked"
    if token.is_expired(today):
        return "expired"
    if token.is_confirmed:
        return "active"
    return "active, never confirmed" if token.predates_confirmation else "awaiting its owner"


def _found(model, field, value):
    try:
        return model.objects.get(**{field: value})
    except model.DoesNotExist:
        raise CommandError(f"There is no {model._meta.verbose_name} called “{value}”.") from None
