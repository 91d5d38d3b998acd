"""Manage accounts from the command line, as the administrator."""

import json
from getpass import getpass
from pathlib import Path

from django.conf import settings
from django.contrib.auth.models import Group
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.core.serializers.json import DjangoJSONEncoder
from django.urls import reverse
from django.utils import timezone

from fleet.actions import (
    add_person,
    change_person,
    lock_person,
    password_link,
    remove_person,
    remove_second_factor,
    unlock_person,
)
from fleet.actions.people import refuse_closed
from fleet.changes import record_change
from fleet.errors import Refused
from fleet.management.arguments import words
from fleet.models import Person, Site
from fleet.people.lockout import locked_until
from fleet.people.personal_data import personal_data, removal_plan

SIMPLE = {
    "lock": (lock_person, "is locked"),
    "unlock": (unlock_person, "can sign in again"),
    "no-second-factor": (remove_second_factor, "signs in with the password alone"),
}


class Command(BaseCommand):
    help = (
        "Manage accounts: person list | add NAME | groups NAME [GROUP...] | sites NAME [CODE...] | lock NAME | "
        "unlock NAME | link NAME | password NAME | no-second-factor NAME | export NAME | remove NAME"
    )

    def add_arguments(self, parser):
        todo = parser.add_subparsers(dest="todo", required=True, metavar="WHAT")
        todo.add_parser("list", help="list everybody, with groups, sites and locked accounts")
        adding = self._named(todo, "add", "enter a person and print a link for setting the password")
        for option in ("--first-name", "--last-name", "--email"):
            adding.add_argument(option, default="", type=words)
        adding.add_argument("--group", action="append", default=[], dest="names", metavar="GROUP")
        adding.add_argument("--site", action="append", default=[], dest="codes", metavar="CODE")
        grouping = self._named(todo, "groups", "set the groups; without a group the person has none")
        grouping.add_argument("names", nargs="*", metavar="GROUP")
        placing = self._named(todo, "sites", "limit the person to sites by their codes; without a code, every site")
        placing.add_argument("codes", nargs="*", metavar="CODE")
        self._named(todo, "link", "print a link with which the person sets a password; it works once")
        self._named(todo, "password", "prompt for a password and set it")
        self._named(todo, "lock", "prevent the person from signing in")
        self._named(todo, "unlock", "let the person sign in again, also after too many wrong passwords")
        self._named(todo, "no-second-factor", "remove the second factor")
        exporting = self._named(todo, "export", "print everything stored about the person as JSON, without secrets")
        exporting.add_argument(
            "--out", type=Path, metavar="FILE", help="write to this file, readable by its owner only"
        )
        removing = self._named(
            todo, "remove", "show what would be deleted and what kept; with --yes, delete what no record needs"
        )
        removing.add_argument("--yes", action="store_true", help="delete it now, permanently")

    def _named(self, todo, name, told):
        parser = todo.add_parser(name, help=told)
        parser.add_argument("username", type=words)
        return parser

    def handle(self, *, todo, **options):
        try:
            if todo in SIMPLE:
                self._simple(todo, _person(options["username"]))
            else:
                getattr(self, f"_{todo}")(options)
        except Refused as refused:
            raise CommandError(str(refused)) from None

    def _simple(self, todo, person):
        action, done = SIMPLE[todo]
        action(person, by=None, at=timezone.now())
        self.stdout.write(f"{person.username} {done}.")

    def _list(self, options):
        locked = locked_until(Person.objects.values("username"), timezone.now())
        for person in Person.objects.prefetch_related("groups", "sites").order_by("username").iterator(chunk_size=500):
            groups = ", ".join(group.name for group in person.groups.all()) or "no group"
            sites = ", ".join(site.code for site in person.sites.all()) or "every site"
            standing = "locked" if not person.is_active else "temporarily locked" if person.username in locked else ""
            self.stdout.write("; ".join(filter(None, [person.username, str(person), groups, sites, standing])))

    def _add(self, options):
        names = {key: options[key] for key in ("first_name", "last_name", "email")}
        person = add_person(
            username=options["username"], groups=_groups(options["names"]), sites=_sites(options["codes"]),
            by=None, at=timezone.now(), **names,
        )  # fmt: skip
        self.stdout.write(f"{person.username} is entered. {self._told_link(person)}")

    def _link(self, options):
        self.stdout.write(self._told_link(_person(options["username"])))

    def _told_link(self, person):
        parts = password_link(person, by=None, at=timezone.now())
        return f"Set the password at: {settings.BASE_URL}{reverse('password_set', kwargs=parts)}"

    def _groups(self, options):
        person = _person(options["username"])
        self._change(person, groups=_groups(options["names"]), sites=person.sites.all())

    def _sites(self, options):
        person = _person(options["username"])
        self._change(person, groups=person.groups.all(), sites=_sites(options["codes"]))

    def _change(self, person, *, groups, sites):
        change_person(person, groups=list(groups), sites=list(sites), by=None, at=timezone.now())
        self.stdout.write(f"{person.username} is changed.")

    def _export(self, options):
        data = personal_data(_person(options["username"]))
        text = json.dumps(data, indent=1, ensure_ascii=False, cls=DjangoJSONEncoder)
        if options["out"] is None:
            self.stdout.write(text)
        else:
            options["out"].touch(0o600)
            options["out"].write_text(text, encoding="utf-8")

    def _remove(self, options):
        person = _person(options["username"])
        act = remove_person(person, by=None, at=timezone.now()) if options["yes"] else removal_plan(person)
        for line in act.goes:
            self.stdout.write(f"delete {line.words}: {line.count}")
        for line in act.stays:
            self.stdout.write(f"keep   {line.words}: {line.count}. {line.reason}")
        end = "deleted" if act.is_deleted else "closed permanently; the records keep its name"
        done = "is" if options["yes"] else "would be"
        self.stdout.write(
            f"The account {person.username} {done} {end}.{'' if options['yes'] else ' Add --yes to do it.'}"
        )

    def _password(self, options):
        person = _person(options["username"])
        refuse_closed(person)
        password = getpass(f"New password of {person.username}: ")
        try:
            validate_password(password, person)
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from None
        person.set_password(password)
        person.save(update_fields=["password"])
        record_change(person, by=None, at=timezone.now(), before={"Password": "old"}, after={"Password": "changed"})
        self.stdout.write(f"The password of {person.username} is set.")


def _person(username):
    try:
        return Person.objects.get(username=username)
    except Person.DoesNotExist:
        raise CommandError(f"Nobody has the username “{username}”. See: manage.py person list") from None


def _groups(names):
    return _all_of(Group.objects.filter(name__in=names), names, "name", "group", Group.objects.order_by("name"))


def _sites(codes):
    return _all_of(Site.objects.filter(code__in=codes), codes, "code", "site", Site.objects.order_by("code"))


def _all_of(found, wanted, key, word, known):
    found = list(found)
    unknown = set(wanted) - {getattr(one, key) for one in found}
    if unknown:
        accepted = ", ".join(getattr(one, key) for one in known)
        raise CommandError(f"There is no {word} {', '.join(sorted(unknown))}. Accepted: {accepted}.")
    return found
