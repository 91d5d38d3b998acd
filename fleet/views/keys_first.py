"""The rows of one page of a long list: first their keys, in order, then these rows with all that the page shows."""

from django_tables2.data import TableQuerysetData


class KeysFirst(TableQuerysetData):
    """Rows of which a page is read in two queries, so that nothing is computed for the rows before it.

    complete  function of a queryset of these rows: adds what the table shows of each; it may return rows of another
              model with the same keys
    total     how many rows there are, where the page has counted them already
    """

    def __init__(self, rows, complete, total=None):
        super().__init__(rows)
        self.complete, self.total = complete, total

    def __len__(self):
        return super().__len__() if self.total is None else self.total

    def __getitem__(self, key):
        if not isinstance(key, slice):
            return super().__getitem__(key)
        keys = self._keys(key.start or 0, key.stop)
        found = {row.pk: row for row in self.complete(self.model._default_manager.filter(pk__in=keys).order_by())}
        return [found[pk] for pk in keys if pk in found]

    def _keys(self, start, stop):
        """Return the keys of these places; beyond the middle, counted from the end, since the rows before are read."""
        rows, total = self._in_one_order().values_list("pk", flat=True), len(self)
        stop = total if stop is None else min(stop, total)
        if start * 2 <= total:
            return list(rows[start:stop])
        return list(rows.reverse()[total - stop : total - start])[::-1]

    def _in_one_order(self):
        """Return the rows in an order that leaves no two of them equal: it must be the same from either end."""
        order = self.data.query.order_by or self.model._meta.ordering
        ends = str(order[-1]).lstrip("-") if order else ""
        unique = {"pk", "asset_number", *(field.name for field in self.model._meta.fields if field.unique)}
        return self.data if ends in unique else self.data.order_by(*order, "pk")
