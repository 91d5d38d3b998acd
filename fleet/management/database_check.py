"""Faults of the database as sentences: after an error, and before commands that need a sound database."""

import sqlite3
from pathlib import Path

import psycopg
from django.core.management.base import CommandError
from django.db import DEFAULT_DB_ALIAS, connections
from django.db import Error as DjangoDatabaseError
from django.db.migrations.loader import MigrationLoader

UNUSABLE = 2  # exit status of a command that could not use the database
DATABASE_ERRORS = (DjangoDatabaseError, sqlite3.Error, psycopg.Error)
READING_A_ROW = {"apply_converters", "from_db_value"}  # functions of Django that convert stored data into values
MOST_NAMED = 5
OWN_APPS = ("fleet", "inspections")
SQLITE_START = b"SQLite format 3\0"
MIGRATE = "Run “manage.py migrate” if this is a newer version of Bobbin; else restore a backup."
RESTORE = "Restore a backup (see “Backup and restore” in README.md)."
ADVICE = {
    "locked": "Another process is writing. Try again, or stop that process.",
    "full": "The disk has no room. Make room and try again.",
    "readonly": "This user has no permission to write to it. Check the owner of the file and its folder.",
    "malformed": f"It is damaged. {RESTORE}",
    "not a database": f"It is damaged. {RESTORE}",
    "no such table": MIGRATE,
    "no such column": MIGRATE,
    "does not exist": MIGRATE,
    "unable to open": "Check the permissions of the file and its folder.",
}


class DatabaseUnusable(CommandError):
    """A database that a command cannot use. The command exits with UNUSABLE."""

    def __init__(self, sentence):
        super().__init__(sentence, returncode=UNUSABLE)


def require_sound_database(using=DEFAULT_DB_ALIAS):
    """Raise DatabaseUnusable unless the database can be read, is undamaged, and has the tables of its migrations."""
    connection = connections[using]
    try:
        fault = _fault_of_pages(connection) or _fault_of_tables(connection)
    except DATABASE_ERRORS as error:
        raise DatabaseUnusable(database_fault(connection, error)) from None
    if fault:
        raise DatabaseUnusable(f"The database {_where(connection)} {fault}")


def require_tables(using=DEFAULT_DB_ALIAS):
    """Raise DatabaseUnusable if the database is down or has no tables of Bobbin. Fast: one query."""
    connection = connections[using]
    try:
        names = connection.introspection.table_names()
    except DATABASE_ERRORS as error:
        raise DatabaseUnusable(database_fault(connection, error)) from None
    if "fleet_machine" not in names:
        raise DatabaseUnusable(f"The database {_where(connection)} contains no Bobbin tables. {MIGRATE}")


DEFECTS = (AssertionError, ImportError, NameError, SyntaxError)  # no state of a database raises these


def fault_in_words(error):
    """Return a sentence if `error` comes from the database, None if it must be a defect of Bobbin."""
    if isinstance(error, DEFECTS):
        return None
    connection = connections[DEFAULT_DB_ALIAS]
    if isinstance(error, DATABASE_ERRORS):
        return database_fault(connection, error)
    if READING_A_ROW & set(_functions_of(error.__traceback__)):
        said = f"{type(error).__name__}: {error}"
        return f"The database {_where(connection)} contains a value that cannot be read ({said}). {RESTORE}"
    try:
        require_sound_database()
    except DatabaseUnusable as fault:
        return str(fault)
    return None


def database_fault(connection, error):
    """Return a sentence for an error of the database: what, where and what to do."""
    if fault := _fault_of_file(connection):
        return f"The database {_where(connection)} {fault}"
    said = str(error).strip().splitlines() or [type(error).__name__]
    advice = next((words for part, words in ADVICE.items() if part in str(error)), "Check DATABASE_URL and the server.")
    return f"The database {_where(connection)} cannot be used: {said[0].rstrip('.')}. {advice}"


def _where(connection):
    settings = connection.settings_dict
    if connection.vendor == "sqlite":
        return str(settings["NAME"])
    return f"{settings['NAME']} at {settings['HOST'] or 'this host'}"


def _fault_of_file(connection):
    """Return the fault of a SQLite file that shows without reading its pages; empty if none, or if it is no file."""
    path = Path(str(connection.settings_dict["NAME"]))
    if connection.vendor != "sqlite" or str(path).startswith((":memory:", "file:")):
        return ""
    if not path.exists():
        return "does not exist. Check DATA_DIR and DATABASE_URL, or create an installation with “manage.py migrate”."
    if path.is_dir():
        return "is a folder. Set DATABASE_URL to the file in that folder."
    try:
        with path.open("rb") as file:
            start = file.read(len(SQLITE_START))
    except OSError as error:
        return f"cannot be read: {error.strerror}. Check the permissions of the file and its folder."
    if not start:
        return f"is an empty file. {RESTORE}"
    return "" if start == SQLITE_START else f"is not a SQLite database. {RESTORE}"


def _fault_of_pages(connection):
    """Return what SQLite's integrity check finds; PostgreSQL checks each page as it reads it."""
    if connection.vendor != "sqlite":
        return ""
    if fault := _fault_of_file(connection):
        return fault
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA quick_check(1)")
        [found] = cursor.fetchone()
    return "" if found == "ok" else f"is damaged ({' '.join(found.split())}). {RESTORE}"


def _fault_of_tables(connection):
    """Return tables and columns of the applied migrations that are missing, or of another type."""
    loader = MigrationLoader(connection)
    applied = [node for node in loader.applied_migrations if node in loader.graph.nodes]
    if not any(app == "fleet" for app, _ in applied):
        return f"contains no Bobbin tables. {MIGRATE}"
    unknown = sorted(f"{app}.{name}" for app, name in loader.applied_migrations if _is_newer(loader, app, name))
    if unknown:
        return f"belongs to a newer version of Bobbin, with {', '.join(unknown[:MOST_NAMED])}. Use that version."
    found = _columns(connection)
    faults = []
    for model in loader.project_state(applied).apps.get_models(include_auto_created=True):
        faults += _differences(model, found, connection)
    if not faults:
        return ""
    more = f" and {len(faults) - MOST_NAMED} more" if len(faults) > MOST_NAMED else ""
    return f"lacks tables or columns that its migrations created: {', '.join(faults[:MOST_NAMED])}{more}. {RESTORE}"


def _is_newer(loader, app, name):
    return app in OWN_APPS and (app, name) not in loader.disk_migrations


def _differences(model, found, connection):
    options = model._meta
    if not options.managed or options.proxy:
        return
    columns = found.get(options.db_table)
    if columns is None:
        yield f"table {options.db_table}"
        return
    for field in options.local_concrete_fields:
        wanted, there = field.db_type(connection), columns.get(field.column)
        if wanted and there is None:
            yield f"column {options.db_table}.{field.column}"
        elif wanted and there != _plain(wanted):
            yield f"column {options.db_table}.{field.column} ({there} in place of {_plain(wanted)})"


def _plain(db_type):
    return db_type.lower().replace("character varying", "varchar").replace(" ", "")


COLUMNS = {
    "sqlite": "SELECT m.name, c.name, c.type FROM sqlite_master m JOIN pragma_table_info(m.name) c "
    "WHERE m.type = 'table'",
    "postgresql": "SELECT c.relname, a.attname, format_type(a.atttypid, a.atttypmod) FROM pg_attribute a "
    "JOIN pg_class c ON c.oid = a.attrelid WHERE c.relkind IN ('r', 'p') AND a.attnum > 0 AND NOT a.attisdropped "
    "AND pg_table_is_visible(c.oid)",
}


def _columns(connection):
    """Return the columns of each table with their types."""
    tables = {}
    with connection.cursor() as cursor:
        cursor.execute(COLUMNS[connection.vendor])
        for table, column, kind in cursor.fetchall():
            tables.setdefault(table, {})[column] = _plain(kind)
    return tables


def _functions_of(trace):
    while trace:
        yield trace.tb_frame.f_code.co_name
        trace = trace.tb_next
