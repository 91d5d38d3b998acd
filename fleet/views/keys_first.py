"""The rows of one page of a long list: first their keys, in order, then these rows with all that the page shows."""

from collections.abc import Callable
from dataclasses import dataclass

from django.db.models import QuerySet
from django_tables2.data import TableQuerysetData

MANY = 1_000  # fewer rows are sorted sooner than looked for group by group
NEAR = 250  # places from either end of a list


@dataclass(frozen=True, slots=True)
class Groups:
    """What the rows of a list belong to, where the list is in its order: then a page at an end reads few of the rows.

    in_order  the groups in an order that leaves no two of them equal, that of the rows
    within    function of (rows, keys of groups): those of the rows that belong to them
    sizes     how many groups are looked through one time after another; a list so thin that they are not enough is
              sorted instead
    """

    in_order: QuerySet
    within: Callable[[QuerySet, list], QuerySet]
    sizes: tuple[int, ...]

    def first_keys(self, rows, number, *, is_reversed):
        """Return the keys of the first `number` of ordered rows; None where the groups looked through have fewer."""
        groups = self.in_order.reverse() if is_reversed else self.in_order
        found, begin = [], 0
        for size in self.sizes:
            keys = list(groups.values_list("pk", flat=True)[begin : begin + size])
            found += self.within(rows, keys).values_list("pk", flat=True)[: number - len(found)]
            if len(found) == number:
                return found
            begin += size
        return None


class KeysFirst(TableQuerysetData):
    """Rows of which a page is read in two queries, so that nothing is computed for the rows before it.

    complete  function of a queryset of these rows: adds what the table shows of each; it may return rows of another
              model with the same keys
    total     how many rows there are, where the page has counted them already
    is_cut    whether there are more than `total`
    groups    the Groups of some orders, by their columns without signs
    parts     function of a queryset of these rows that returns them in parts, each of which an index has in order; None
              where they are read as they are
    """

    def __init__(self, rows, complete, total=None, parts=None, is_cut=False, groups=None):
        super().__init__(rows)
        self.groups = groups or {}
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
        rows, total = self._in_one_order(), len(self)
        stop = total if stop is None else min(stop, total)
        if self.is_cut or start * 2 <= total:
            return self._first(rows, start, stop)
        return self._first(rows.reverse(), total - stop, total - start)[::-1]

    def _first(self, rows, start, stop):
        """Return the keys of these places of ordered rows."""
        if (near := self._near_end(rows, stop)) is not None:
            return near[start:]
        return [row[0] for row in self._merged(rows)[start:stop]]

    def _near_end(self, rows, stop):
        """Return the keys of the rows up to a place near their end, group by group; None where that takes longer."""
        order = list(_directions(rows))
        groups = self.groups.get(tuple(column for column, _ in order))
        if groups is None or stop > NEAR or len(self) < MANY:
            return None
        return groups.first_keys(rows, stop, is_reversed=order[0][1])

    def _merged(self, rows):
        """Return the keys of the rows, put together in order from the parts where these are in order by columns."""
        order = rows.query.order_by
        columns = [str(one).lstrip("-") for one in order]
        own = {"pk", *(field.name for field in self.model._meta.concrete_fields)}
        if self.parts is None or not own.issuperset(columns):
            return rows.values_list("pk")
        read = ["pk", *(column for column in columns if column != "pk")]
        first, *others = (part.order_by().values_list(*read) for part in self.parts(rows))
        # The union is reversed where its first part is.
        return first.union(*others, all=True).order_by(*order) if others else rows.values_list("pk")

    def _in_one_order(self):
        """Return the rows in an order that leaves no two of them equal: it must be the same from either end."""
        order = self.data.query.order_by or self.model._meta.ordering
        ends = str(order[-1]).lstrip("-") if order else ""
        unique = {"pk", "asset_number", *(field.name for field in self.model._meta.fields if field.unique)}
        return self.data if ends in unique else self.data.order_by(*order, "pk")


def _directions(rows):
    """Yield each column of the order with whether it descends."""
    for one in rows.query.order_by:
        name = str(one)
        yield name.lstrip("-"), name.startswith("-") != (not rows.query.standard_ordering)
