"""Queries about people."""

from django.apps import apps
from django.contrib.auth.models import UserManager
from django.db.models import Exists, OuterRef, Q

from fleet.acting.querysets import JournaledQuerySet
from fleet.acting.scope import acting

MANAGES = "fleet.manage_people"
GIVES_RIGHTS = "django.contrib.auth.backends.ModelBackend"


class PersonQuerySet(JournaledQuerySet):
    def visible_to(self, person):
        """Return the people whose account `person` may manage.

        A person limited to sites manages people of those sites only; an account that may do everything is managed only
        by another such account.
        """
        people = self if person.is_superuser else self.filter(is_superuser=False)
        if not person.site_ids:
            return people
        sites = people.model.sites.through.objects.filter(person=OuterRef("pk"))
        outside = sites.exclude(site__in=person.site_ids)
        return people.filter(Exists(sites), ~Exists(outside))

    def found_by(self, text):
        """Keep the people whose name, username or email address contains `text`."""
        words = Q()
        for name in ("username", "first_name", "last_name", "email"):
            words |= Q(**{f"{name}__icontains": text})
        return self.filter(words)

    def with_second_factor(self):
        """Annotate `has_second_factor`."""
        devices = apps.get_model("otp_totp", "TOTPDevice").objects
        return self.annotate(has_second_factor=Exists(devices.filter(user=OuterRef("pk"), confirmed=True)))


class PersonManager(UserManager.from_queryset(PersonQuerySet)):
    use_in_migrations = False

    def create_superuser(self, *args, **kwargs):
        """As Django's, but journaled; the command createsuperuser calls it."""
        with acting("createsuperuser", using=self.db):
            return super().create_superuser(*args, **kwargs)

    def with_perm(self, perm, *args, backend=GIVES_RIGHTS, **kwargs):
        """As Django's, with the backend set: one backend gives rights, the other counts wrong passwords."""
        return super().with_perm(perm, *args, backend=backend, **kwargs)

    def who_manage(self):
        """Return active people who may manage every account: with the permission and not limited to sites."""
        return self.with_perm(MANAGES).filter(sites=None)
