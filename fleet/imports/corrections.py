"""Corrections of many machines that change only fields of the machine: computed first, then written together.

Changes of the model or the first day, and features, are left to the actions.
"""

from dataclasses import dataclass, field

from django.db import connection

from fleet.acting.watching import note_written
from fleet.actions.area_periods import follow_areas
from fleet.changes import correction_entries
from fleet.errors import RegisterRefused
from fleet.models import ChangeEntry, Machine

PLAIN = {"serial", "built_year", "note", "area"}
WRITTEN_AT_ONCE = 500
SAME = {"sqlite": "IS", "postgresql": "IS NOT DISTINCT FROM"}


@dataclass
class PlainCorrections:
    """Statements with their rows of values, the keys of their machines, and the other corrections.

    moves  pairs of a machine and its new area;  who  by whom and when, as keywords
    """

    updates: dict[tuple[str, ...], list[tuple]] = field(default_factory=dict)
    entries: list[ChangeEntry] = field(default_factory=list)
    keys: list[int] = field(default_factory=list)
    others: list = field(default_factory=list)
    moves: list[tuple] = field(default_factory=list)
    who: dict = field(default_factory=dict)

    @classmethod
    def of(cls, corrections, *, by, at):
        """Compute the corrections of a plan; nothing is written."""
        found = cls()
        plain = []
        for one in corrections:
            is_plain = one.fields and set(one.fields) <= PLAIN and not one.extra["features"]
            (plain if is_plain else found.others).append(one)
        for one in plain:
            found.updates.setdefault(tuple(one.fields), []).append(_values(one))
        found.keys = [one.record.pk for one in plain]
        found.moves = [(one.record, one.fields["area"]) for one in plain if "area" in one.fields]
        found.who = {"by": by, "at": at}
        found.entries = correction_entries([(one.record, one.fields) for one in plain], by=by, at=at)
        return found

    def carry_out(self):
        """Write them within the caller's transaction. Raise RegisterRefused if one of the values has changed since."""
        note_written(Machine, self.keys, connection.alias)  # the statements below send no signals
        with connection.cursor() as cursor:
            for names, rows in self.updates.items():
                cursor.executemany(_update(names), rows)
                if cursor.rowcount != len(rows):
                    raise RegisterRefused(
                        "Nothing was imported: a machine has changed since the preview. Open the preview again."
                    )
        ChangeEntry.objects.bulk_create(self.entries, batch_size=WRITTEN_AT_ONCE)
        follow_areas(self.moves, **self.who)


def _values(one):
    """Return new values, key, and the values that the plan was made from."""
    fields = [Machine._meta.get_field(name) for name in one.fields]
    new = [
        _prepared(f, value.pk if f.is_relation else value) for f, value in zip(fields, one.fields.values(), strict=True)
    ]
    return (*new, one.record.pk, *(_prepared(each, getattr(one.record, each.attname)) for each in fields))


def _prepared(model_field, value):
    return model_field.get_db_prep_save(value, connection)


def _update(names):
    columns = [connection.ops.quote_name(Machine._meta.get_field(name).column) for name in names]
    sets = ", ".join(f"{column} = %s" for column in columns)
    held = " AND ".join(f"{column} {SAME[connection.vendor]} %s" for column in columns)
    return f"UPDATE {connection.ops.quote_name(Machine._meta.db_table)} SET {sets} WHERE id = %s AND {held}"
