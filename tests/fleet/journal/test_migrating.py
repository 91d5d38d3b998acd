"""What a migration finds and writes is journaled, and no alteration is hidden."""

import pytest
from django.apps import apps
from django.contrib.auth.models import Group, Permission
from django.db import connection

from fleet.acting import covered
from fleet.acting.scope import outside_actions, settle
from fleet.journal.migrating import after_migrations, before_migrations
from fleet.models import JournalEntry, JournalHead, JournalLink, Machine, Site
from inspections.chain.verification import verify_store
from tests.factories import make_machine, make_site

FIRST = next(config for config in apps.get_app_configs() if config.models_module)
LAST = [config for config in apps.get_app_configs() if config.models_module][-1]
PLAN = [("a migration", False)]


@pytest.fixture
def machine(db):
    machine = make_machine()
    settle()
    return machine


def migrate(write=lambda: None, *, plan=PLAN):
    before_migrations(FIRST, using="default", plan=plan)
    with outside_actions():
        write()
    after_migrations(LAST, using="default", plan=plan)


def rename(name):
    with connection.cursor() as cursor:
        cursor.execute("UPDATE fleet_site SET name = %s", [name])


def troubles():
    return list(verify_store())


def test_the_journal_begins_with_what_is_found(machine):
    for model in (JournalEntry, JournalLink, JournalHead):
        model.objects.all().delete()
    migrate(plan=[])
    assert troubles() == [] and '"mode":"found"' in JournalLink.objects.first().content
    rename("Another")
    assert [(one.kind, one.field) for one in troubles()] == [("altered", "name")]


def test_what_a_migration_writes_is_no_alteration(machine):
    migrate(lambda: (rename("As migrated"), make_site()))
    assert troubles() == []


def test_what_was_altered_before_a_migration_still_shows_after_it(machine):
    rename("Altered")
    migrate(lambda: Machine.objects.update(note="by the migration"))
    assert [(one.kind, one.field, one.found) for one in troubles()] == [("altered", "name", "Altered")]


def test_nothing_is_followed_where_nothing_is_migrated(machine):
    migrate(lambda: rename("Altered"), plan=[])
    assert [one.field for one in troubles()] == ["name"]


def test_rights_that_a_release_gives_its_groups_are_no_alteration(machine):
    right = Permission.objects.first()
    migrate(lambda: Group.objects.get(name="auditor").permissions.add(right), plan=[])
    assert troubles() == []


def test_a_group_altered_before_shows_although_nothing_is_migrated(machine):
    with outside_actions():
        Group.objects.get(name="auditor").permissions.add(Permission.objects.first())
    migrate(plan=[])
    assert [one.field for one in troubles()] == ["permissions"]


@pytest.fixture
def without_altitude(monkeypatch):
    """A release that did not know the altitude of a site yet."""
    cached = (covered.columns_of, covered.layout_of)

    def know(columns):
        monkeypatch.setitem(covered.LEFT_OUT_COLUMNS, "fleet.site", dict.fromkeys(columns, "not there yet"))
        for function in cached:
            function.cache_clear()

    yield know
    know([])


def test_entries_from_before_a_column_name_their_own_columns(db, without_altitude):
    without_altitude(["altitude_m"])
    site = make_site(altitude_m=620)
    settle()
    without_altitude([])
    assert troubles() == []
    rename("Altered")
    assert [one.field for one in troubles()] == ["name"]
    rename(site.name)


def test_a_column_that_a_migration_adds_is_covered_from_then_on(db, without_altitude):
    without_altitude(["altitude_m"])
    site = make_site(altitude_m=620)
    settle()
    without_altitude([])
    migrate()
    assert troubles() == []
    with connection.cursor() as cursor:
        cursor.execute("UPDATE fleet_site SET altitude_m = 0")
    assert [(one.field, one.expected, one.found) for one in troubles()] == [("altitude_m", "620", "0")]
    assert Site.objects.get().pk == site.pk


def test_following_again_adds_nothing(machine):
    migrate()
    links = JournalLink.objects.count()
    migrate()
    assert JournalLink.objects.count() == links
