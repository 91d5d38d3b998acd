"""A sentence of the home page with its figure, its link and a few examples."""

from dataclasses import dataclass

SHOWN = 4
FEW = 500


@dataclass(frozen=True, slots=True)
class Item:
    """One thing to know or do. `examples` are (label, url) pairs.

    text    follows the number
    urgent  somebody must act now
    """

    number: int
    text: str
    url: str = ""
    label: str = ""
    examples: tuple[tuple[str, str], ...] = ()
    urgent: bool = False

    @property
    def more(self):
        return max(0, self.number - len(self.examples)) if self.examples else 0

    @property
    def is_urgent(self):
        return self.urgent and self.number > 0


@dataclass(frozen=True, slots=True)
class Part:
    """The items of one group. `later` is the address of items that take longer to compute."""

    title: str
    items: tuple[Item, ...]
    note: str = ""
    links: tuple[tuple[str, str], ...] = ()
    later: str = ""


def listed(rows, one, many, describe, *, related=None, few=False, url="", label="Show", urgent=False):
    """Return an Item of a queryset: its count, the sentence for one or many, and its first rows by `describe`.

    The keys of the first rows are read before the rows: what belongs to a row is not fetched for all to be sorted.

    related  what `describe` reads of each row, where it needs nothing else of the queryset than its rows
    few      whether to read the keys of up to FEW at once, where a count would take as long
    """
    keys = list(rows.values_list("pk", flat=True)[: FEW + 1]) if few else None
    number = rows.count() if keys is None or len(keys) > FEW else len(keys)
    if keys is None:
        keys = list(rows.values_list("pk", flat=True)[:SHOWN]) if number else []
    examples = tuple(describe(row) for row in _shown(rows, keys[:SHOWN], related)) if keys else ()
    return Item(number, one if number == 1 else many, url if number else "", label, examples, urgent)


def _shown(rows, keys, related):
    """Return the rows with these keys, in that order."""
    if related is None:
        return rows.filter(pk__in=keys)
    found = {row.pk: row for row in rows.model._default_manager.filter(pk__in=keys).order_by().select_related(*related)}
    return [found[key] for key in keys if key in found]
