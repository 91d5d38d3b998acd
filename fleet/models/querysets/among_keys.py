"""Whether a key is one of many, which are sent to the database as one value.

`in` sends every key as a value of its own: for a thousand of them Django takes as long as for the rest of a page, and
SQLite has a limit. Source: sqlite.org/json1.html, 4.23; postgresql.org/docs/current/functions-comparisons.html, 9.25.3.
"""

import json

from django.db.models import Field, ForeignObject, Lookup, Q

FEW = 20  # so few are named one by one: a database then knows how few they are


def among(path, keys):
    """Return the condition that the key at `path` is one of `keys`, a list of whole numbers."""
    return Q(**{f"{path}__{'in' if len(keys) <= FEW else 'among'}": keys})


@Field.register_lookup
@ForeignObject.register_lookup
class AmongKeys(Lookup):
    lookup_name = "among"

    def get_prep_lookup(self):
        return [int(key) for key in self.rhs]

    def as_sqlite(self, compiler, connection):
        left, values = self.process_lhs(compiler, connection)
        return f"{left} IN (SELECT value FROM json_each(%s))", [*values, json.dumps(self.rhs)]

    def as_postgresql(self, compiler, connection):
        left, values = self.process_lhs(compiler, connection)
        return f"{left} = ANY(%s)", [*values, self.rhs]
