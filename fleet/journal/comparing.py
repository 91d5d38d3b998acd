"""Compare every row of the covered tables with its newest entry, in one ordered pass through both."""

from itertools import groupby

from fleet.acting.covered import columns_of, covered_models, exempt_condition, layout_of
from fleet.acting.rows import states_of
from fleet.journal.difference import Difference
from fleet.journal.writing import ENTRY, State, columns_of_entry, differing, values_of_entry
from fleet.models import JournalEntry

AT_ONCE = 1000
NAMES = ("title", "name", "code", "label", "asset_number", "username", "certificate", "feature", "words", "reason")


class Comparison:
    """Compares rows with entries; `rows` counts.

    columns          function of a model that returns the columns of its table
    strict_layouts   a row whose newest entry has other columns than the journal stores today also differs
    """

    def __init__(self, using, *, columns=columns_of, strict_layouts=False):
        self.using, self.columns, self.strict_layouts = using, columns, strict_layouts
        self.rows, self.layouts = 0, {}

    def run(self, models=None):
        """Yield a Difference for every row that differs, of all covered models or of the given ones."""
        for model in covered_models() if models is None else models:
            yield from self._of_model(model)

    def _of_model(self, model):
        """Read both sides in the order of keys: a chunk of rows with the entries up to its last key."""
        entries, last, more = self._newest(model), None, True
        waiting = next(entries, None)
        while more:
            part = model._base_manager.using(self.using).order_by("pk")
            part = part if last is None else part.filter(pk__gt=last)
            rows = states_of(part[:AT_ONCE], self.columns(model))
            self.rows += len(rows)
            more = len(rows) == AT_ONCE
            last = max(rows, default=last)
            said = {}
            while waiting is not None and (not more or waiting.row <= last):
                said[waiting.row] = waiting
                waiting = next(entries, None)
            yield from self._of_part(model, rows, said)

    def _newest(self, model):
        entries = JournalEntry.objects.using(self.using).filter(table=model._meta.db_table).order_by("row", "id")
        read = entries.values_list(*ENTRY, named=True).iterator(AT_ONCE)
        for _, group in groupby(read, key=lambda entry: entry.row):
            *_, newest = group
            yield newest

    def _of_part(self, model, rows, said):
        unknown = self._not_exempt(model, rows.keys() - said.keys())
        for pk in sorted(rows.keys() | said.keys()):
            if pk in rows and pk in said and self._is_same(model, said[pk], rows[pk]):
                continue
            now = dict(zip(self.columns(model), rows[pk], strict=True)) if pk in rows else None
            if pk in said:
                yield from self._of_row(model, said[pk], now)
            elif pk in unknown:
                yield _difference(model, {"kind": "inserted", "row": pk}, now)

    def _is_same(self, model, entry, values):
        """Whether an entry of today's columns holds these values; nearly every one does."""
        is_of_today = entry.layout == layout_of(model) and self.columns(model) == columns_of(model)
        return is_of_today and values_of_entry(entry) == values

    def _of_row(self, model, entry, now):
        said = State(self._columns(model, entry), values_of_entry(entry))
        found = differing(model, entry.row, said, now)
        for one in found:
            yield _difference(model, one, said.as_dict() if now is None else now)
        if self.strict_layouts and not found and now is not None and entry.layout != layout_of(model):
            yield _difference(model, {"kind": "altered", "row": entry.row, "column": "layout"}, now)

    def _columns(self, model, entry):
        if entry.layout not in self.layouts:
            self.layouts[entry.layout] = columns_of_entry(model, entry, self.using)
        return self.layouts[entry.layout]

    def _not_exempt(self, model, keys):
        condition = exempt_condition(model)
        if not keys or condition is None:
            return keys
        exempt = model._base_manager.using(self.using).filter(condition, pk__in=keys)
        return keys - set(exempt.values_list("pk", flat=True))


def _difference(model, one, values):
    table = model._meta.db_table
    told = next((str(values[name]) for name in NAMES if values.get(name)), "")
    words = f"{table} {one['row']}" + (f" ({told[:60]})" if told else "")
    column, expected, found = (one.get(name, "") for name in ("column", "expected", "found"))
    return Difference(one["kind"], words, table, one["row"], column, expected, found, values=values)
