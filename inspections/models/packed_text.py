"""Long text that SQLite holds compressed: what a signature froze is read whole or not at all, and never searched."""

import zlib

from django.core.exceptions import FieldError
from django.db import models


class PackedTextField(models.TextField):
    """Text of any length, str in and out; compressed with zlib (RFC 1950) where the database does not do it itself.

    Each value has the form in which it was written: text from before it was compressed stays text, because rows that
    are signed are never written again. Bytes that do not unpack are read as other text, which its digest disowns.
    """

    def get_db_prep_value(self, value, connection, prepared=False):
        value = super().get_db_prep_value(value, connection, prepared)
        return zlib.compress(value.encode()) if isinstance(value, str) and connection.vendor == "sqlite" else value

    def from_db_value(self, value, expression, connection):
        return _unpacked(value) if isinstance(value, bytes) else value

    def get_lookup(self, lookup_name):
        """Refuse to compare: the database cannot look into what is compressed. Raise FieldError."""
        raise FieldError(f"{self.name} is compressed and cannot be searched. Search by its digest.")


def _unpacked(packed):
    try:
        return zlib.decompress(packed).decode()
    except (zlib.error, UnicodeDecodeError):
        return packed.decode("latin-1")
