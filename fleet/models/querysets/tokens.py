"""Queries about the tokens of programs and about who can own one."""

import hashlib

from django.apps import apps
from django.db.models import Exists, F, OuterRef

from fleet.acting.querysets import JournaledQuerySet


def digest_of_secret(secret):
    """Return the SHA-256 of a token's secret in hexadecimal, which is stored in its place. Source: FIPS 180-4."""
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()


class ApiTokenQuerySet(JournaledQuerySet):
    def with_secret(self, secret):
        """Return the token with this secret, with `owner_in_group`: whether its owner is still in its group."""
        return self.with_people().filter(digest=digest_of_secret(secret))

    def with_people(self):
        """Fetch owner and group as well, and annotate `owner_in_group`."""
        Person = apps.get_model("fleet", "Person")
        membership = Person.groups.through.objects.filter(person=OuterRef("owner"), group=OuterRef("group"))
        return self.select_related("owner", "group", "added_by").annotate(owner_in_group=Exists(membership))

    def visible_to(self, person):
        """Return the tokens whose owner works only at the sites of `person`."""
        return self.filter(owner__in=owners_for(person)) if person.site_ids else self

    def owned_by(self, person):
        """Return the tokens that act in the name of `person`."""
        return self.filter(owner=person)

    def awaiting_owner(self):
        """Return those that their owner has neither confirmed nor revoked."""
        return self.filter(confirmed_at=None, revoked_at=None)

    def in_order(self):
        """Sort tokens in force first, then the revoked ones, each by name."""
        return self.order_by(F("revoked_at").desc(nulls_first=True), "name")


def owners_for(person):
    """Return people in whose name `person` may request a token: active, and working only at the sites of `person`."""
    Person = apps.get_model("fleet", "Person")
    people = Person.objects.filter(is_active=True)
    if not person.site_ids:
        return people
    elsewhere = Person.sites.through.objects.filter(person=OuterRef("pk")).exclude(site__in=person.site_ids)
    here = Person.sites.through.objects.filter(person=OuterRef("pk"))
    return people.filter(Exists(here), ~Exists(elsewhere))
