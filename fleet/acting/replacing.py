"""Rows that are not journaled, written by their key without a model's preparation of every value of every row."""

from django.db import connections

AS_THEY_ARE = frozenset((int, bool, float, str, type(None)))  # types of values that every driver takes


def write_by_key(rows, using):
    """Insert unsaved instances of one model, or where there is a row of their key, replace it; one statement."""
    if not rows:
        return
    connection, options = connections[using], rows[0]._meta
    fields, quoted = options.concrete_fields, connection.ops.quote_name
    columns = [quoted(field.column) for field in fields]
    others = ", ".join(f"{name} = EXCLUDED.{name}" for field, name in zip(fields, columns, strict=True)
                       if not field.primary_key)  # fmt: skip
    with connection.cursor() as cursor:
        cursor.executemany(
            f"INSERT INTO {quoted(options.db_table)} ({', '.join(columns)}) VALUES ({', '.join(['%s'] * len(fields))}) "
            f"ON CONFLICT ({quoted(options.pk.column)}) DO UPDATE SET {others}",
            [[_sent(field, getattr(row, field.attname), connection) for field in fields] for row in rows],
        )


def _sent(field, value, connection):
    return value if type(value) in AS_THEY_ARE else field.get_db_prep_save(value, connection)
