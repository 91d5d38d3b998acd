"""Proof that two databases hold the same data: rows and digest of every table, and the heads of the chains."""

import hashlib
from dataclasses import dataclass

from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

from config.backup.errors import ArchiveError

CHUNK = 2000
CHUNK_OF_PICTURES = 20  # rows in memory at a time of a table that holds files
BINARY = ("BLOB", 17)  # as SQLite and PostgreSQL name the type of a column of bytes


@dataclass(frozen=True, slots=True)
class Manifest:
    """The content of one database at one moment. `tables` maps each table to its number of rows and its SHA-256."""

    engine: str
    tables: dict[str, dict]
    chains: list[str]
    migrations: list[str]

    @classmethod
    def of_archive(cls, told):
        """Parse the manifest of a backup. Raise ArchiveError if it is not valid."""
        tables, lists = told.get("tables"), [told.get(name) for name in ("chains", "migrations")]
        is_told = isinstance(told.get("engine"), str) and isinstance(tables, dict) and tables
        if not (is_told and all(map(_is_table, tables.values())) and all(map(_is_list_of_text, lists))):
            raise ArchiveError("The manifest of the backup does not list its contents. Use another backup.")
        return cls(told["engine"], tables, *lists)

    @property
    def unknown_migrations(self):
        """Return the migrations that this version of Bobbin does not know: the backup is newer."""
        return sorted(set(self.migrations) - _known_migrations())

    @property
    def missing_migrations(self):
        """Return the migrations of this version that the backup does not have."""
        return sorted(_known_migrations() - set(self.migrations))


def _is_table(table):
    return (
        isinstance(table, dict)
        and table.keys() == {"rows", "sha256"}
        and isinstance(table["rows"], int)
        and isinstance(table["sha256"], str)
    )


def _is_list_of_text(found):
    return isinstance(found, list) and all(isinstance(one, str) for one in found)


def _known_migrations():
    loader = MigrationLoader(None, ignore_no_migrations=True)
    return {f"{app}.{name}" for app, name in loader.disk_migrations}


def manifest_of(connection):
    """Read every row of every table once, in chunks. The caller holds the snapshot."""
    with connection.cursor() as cursor:
        names = sorted(connection.introspection.table_names(cursor))
    applied = MigrationRecorder(connection).applied_migrations()
    return Manifest(
        engine=connection.vendor,
        tables={name: _table(connection, name) for name in names},
        chains=_chains(connection, names),
        migrations=sorted(f"{app}.{name}" for app, name in applied),
    )


def _table(connection, name):
    with connection.cursor() as cursor:
        described = connection.introspection.get_table_description(cursor, name)
        columns = sorted(c.name for c in described)
        keys = connection.introspection.get_primary_key_columns(cursor, name) or columns
    quote = connection.ops.quote_name
    sql = "SELECT {} FROM {} ORDER BY {}".format(
        ", ".join(map(quote, columns)), quote(name), ", ".join(map(quote, keys))
    )
    chunk_rows = CHUNK_OF_PICTURES if any(_is_binary(c.type_code) for c in described) else CHUNK
    digest, rows = hashlib.sha256(repr(columns).encode()), 0
    with connection.chunked_cursor() as cursor:
        cursor.execute(sql)
        while chunk := cursor.fetchmany(chunk_rows):
            rows += len(chunk)
            for row in chunk:
                digest.update(repr(tuple(row)).encode())
    return {"rows": rows, "sha256": digest.hexdigest()}


def _is_binary(type_code):
    return (type_code.upper() if isinstance(type_code, str) else type_code) in BINARY


def _chains(connection, names):
    if "inspections_chainhead" not in names:
        return []
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT s.code, h.sequence, h.digest FROM inspections_chainhead h JOIN fleet_site s ON s.id = h.site_id "
            "ORDER BY s.code"
        )
        heads = cursor.fetchall()
        if "fleet_journalhead" in names:
            cursor.execute("SELECT 'journal', sequence, digest FROM fleet_journalhead")
            heads += cursor.fetchall()
    return [f"{code} {sequence} {digest}" for code, sequence, digest in heads]


def compare(expected, found):
    """Return one sentence for every table, chain or migration in which two manifests differ."""
    sentences = []
    for name in sorted(expected.tables.keys() | found.tables.keys()):
        was, now = expected.tables.get(name), found.tables.get(name)
        if was is None or now is None:
            sentences.append(f"{name}: only in the {'backup' if now is None else 'restored database'}")
        elif was != now:
            rows = f"{was['rows']:,} rows in the backup, {now['rows']:,} restored"
            sentences.append(f"{name}: {rows}; digests {was['sha256'][:12]} and {now['sha256'][:12]}")
    for part in ("chains", "migrations"):
        lost = set(getattr(expected, part)) ^ set(getattr(found, part))
        sentences += [f"{part}: differs in {one}" for one in sorted(lost)]
    return sentences
