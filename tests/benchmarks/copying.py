"""Copy rows by the ten thousand inside a SQLite database, and a whole SQLite database into PostgreSQL."""

from django.apps import apps
from django.db import connection, models

BATCH = 2_000


def column_values(row):
    """Return the columns of a row without its key."""
    return {field.attname: getattr(row, field.attname) for field in row._meta.concrete_fields if field.name != "id"}


class Numbers:
    """Hands out primary keys in blocks above those that a table holds."""

    def __init__(self, model):
        self.next = (model.objects.aggregate(last=models.Max("pk"))["last"] or 0) + 1

    def take(self, count):
        first = self.next
        self.next += count
        return first


def make_table(name, columns, rows):
    """Create the temporary table `name` with integer and text `columns`, filled with `rows`."""
    with connection.cursor() as cursor:
        cursor.execute(f"CREATE TEMP TABLE {name} ({', '.join(columns)})")
        places = ", ".join(["%s"] * len(columns))
        cursor.executemany(f"INSERT INTO {name} VALUES ({places})", rows)


def copy_rows(model, source, *, join="", **changed):
    """Insert a copy of each row of `model` that `source` joins as `old`; `changed` maps columns to SQL expressions."""
    columns = [field.column for field in model._meta.local_concrete_fields]
    chosen = [changed.get(column, f'old."{column}"') for column in columns]
    names = ", ".join(f'"{column}"' for column in columns)
    with connection.cursor() as cursor:
        cursor.execute(
            f'INSERT INTO "{model._meta.db_table}" ({names}) SELECT {", ".join(chosen)} '
            f'FROM {source} JOIN "{model._meta.db_table}" AS old ON {join}'
        )
        return cursor.rowcount


def pour(sqlite, postgresql):
    """Replace the rows of a migrated PostgreSQL database by those of a SQLite one; both are open connections.

    sqlite, postgresql  a sqlite3.Connection, and a psycopg.Connection of a superuser
    """
    tables = _tables()
    with postgresql.cursor() as cursor:
        # Rows are copied table by table: foreign keys are valid only at the end.
        cursor.execute("SET session_replication_role = replica")
        cursor.execute(f"TRUNCATE {', '.join(tables)} CASCADE")
        indexes = _drop_indexes(cursor)
        for table, columns in tables.items():
            _pour_table(sqlite, cursor, table, columns)
        for definition in indexes:
            cursor.execute(definition)
    postgresql.commit()
    postgresql.autocommit = True
    postgresql.execute("VACUUM ANALYZE")


def _tables():
    every = apps.get_models(include_auto_created=True)
    return {
        f'"{model._meta.db_table}"': [field.column for field in model._meta.local_concrete_fields] for model in every
    }


def _drop_indexes(cursor):
    """Drop the indexes that are no constraints; return the statements that create them again."""
    cursor.execute(
        "SELECT indexname, indexdef FROM pg_indexes WHERE schemaname = 'public' "
        "AND indexname NOT IN (SELECT conname FROM pg_constraint)"
    )
    found = cursor.fetchall()
    for name, _ in found:
        cursor.execute(f'DROP INDEX "{name}"')
    return [definition for _, definition in found]


def _pour_table(sqlite, cursor, table, columns):
    names = ", ".join(f'"{column}"' for column in columns)
    with cursor.copy(f"COPY {table} ({names}) FROM STDIN") as copy:
        for row in sqlite.execute(f"SELECT {names} FROM {table}"):
            copy.write_row(row)
    if columns[0] == "id":
        cursor.execute(f"SELECT setval(pg_get_serial_sequence('{table}', 'id'), (SELECT max(id) + 1 FROM {table}))")
