"""The rows of one page of a long list: first their keys, in order, then these rows with all that the page shows."""

from django_tables2.data import TableQuerysetData


class KeysFirst(TableQuerysetData):
    """Rows of which a page is read in two queries, so that nothing is computed for the rows before it.

    complete  function of a queryset of these rows: adds what the table shows of each; it may return rows of another
              model with the same keys
    total     how many rows there are, where the page has counted them already
    is_cut    whether there are more than `total`
    parts     function of a queryset of these rows that returns them in parts, each of which an index has in order; None
              where they are read as they are
    """

    def __init__(self, rows, complete, total=None, parts=None, is_cut=False):
        super().__init__(rows)
        self.complete, self.total, self.parts, self.is_cut = complete, total, parts, is_cut

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
        rows, total = self._merged(self._in_one_order()), len(self)
        stop = total if stop is None else min(stop, total)
        if self.is_cut or start * 2 <= total:
            return [row[0] for row in rows[start:stop]]
        return [row[0] for row in rows.reverse()[total - stop : total - start]][::-1]

    def _merged(self, rows):
        """Return the keys of the rows, put together in order from the parts where these are in order by columns."""
        order = rows.query.order_by
        columns = [str(one).lstrip("-") for one in order]
        own = {"pk", *(field.name for field in self.model._meta.concrete_fields)}
        if self.parts is None or not own.issuperset(columns):
            return rows.values_list("pk")
        read = ["pk", *(column for column in columns if column != "pk")]
        first, *others = (part.order_by().values_list(*read) for part in self.parts(rows))
        return first.union(*others, all=True).order_by(*order) if others else rows.values_list("pk")

    def _in_one_order(self):
        """Return the rows in an order that leaves no two of them equal: it must be the same from either end."""
        order = self.data.query.order_by or self.model._meta.ordering
        ends = str(order[-1]).lstrip("-") if order else ""
        unique = {"pk", "asset_number", *(field.name for field in self.model._meta.fields if field.unique)}
        return self.data if ends in unique else self.data.order_by(*order, "pk")
