"""A copy of a migrated database is what migrating gives."""

import contextlib
import sqlite3

import psycopg
import pytest

from tests.services import migrated

COLUMNS = """
SELECT table_name, column_name, data_type, is_nullable, column_default, character_maximum_length, is_identity
FROM information_schema.columns WHERE table_schema = 'public'
"""
# The condition of a check or of an index keeps its meaning, but not the place of its casts.
RULES = """
SELECT conrelid::regclass::text, conname, CASE WHEN contype <> 'c' THEN pg_get_constraintdef(oid) END
FROM pg_constraint WHERE connamespace = 'public'::regnamespace
"""
INDEXES = "SELECT indexname, split_part(indexdef, ' WHERE ', 1) FROM pg_indexes WHERE schemaname = 'public'"
ROWS = ("auth_group", "auth_group_permissions", "auth_permission", "django_content_type", "django_migrations")


@pytest.fixture
def first_of_a_run(tmp_path, monkeypatch):
    """A run in which no database was migrated yet; the calls of commands, which find their database migrated."""
    monkeypatch.setenv(migrated.RUN, str(tmp_path))
    calls = []
    monkeypatch.setattr(migrated, "manage", lambda *args, **env: calls.append(args[0]))
    return calls


def _in_file(path):
    with contextlib.closing(sqlite3.connect(path)) as database:
        return list(database.iterdump())


def test_a_copied_file_holds_what_the_migrated_one_does(first_of_a_run, migrated_sqlite, tmp_path):
    (tmp_path / "migrated.sqlite").write_bytes(migrated_sqlite.read_bytes())
    migrated.migrate(DATABASE_URL=f"sqlite:///{tmp_path / 'copy.sqlite3'}")
    assert _in_file(tmp_path / "copy.sqlite3") == _in_file(migrated_sqlite)
    assert first_of_a_run == [] and len(_in_file(migrated_sqlite)) > 500


def _in_cluster(url):
    with psycopg.connect(url) as database:
        asked = [COLUMNS, RULES, INDEXES, *(f"SELECT * FROM {table}" for table in ROWS)]
        return [sorted(map(str, database.execute(one))) for one in asked]


def test_a_loaded_dump_holds_what_the_migrated_database_does(first_of_a_run, migrated_postgresql, postgresql_url):
    there = _in_cluster(migrated_postgresql)
    migrated.migrate(DATABASE_URL=migrated_postgresql)  # dumped, and loaded into the other
    migrated.migrate(DATABASE_URL=postgresql_url)
    assert _in_cluster(postgresql_url) == there
    assert first_of_a_run == ["migrate"] and min(map(len, there[:4])) > 3
