"""Views of a table that are evaluated on each access, so that they include entries added later."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any


class Live(Mapping):
    """The result of `read` for each entry of a table for which `which` is true, by code."""

    def __init__(self, table: Mapping[str, Any], read: Callable[[Any], Any], which: Callable[[Any], bool]):
        self.table, self.read, self.which = table, read, which

    def __getitem__(self, code: str) -> Any:
        entry = self.table[code]
        if not self.which(entry):
            raise KeyError(code)
        return self.read(entry)

    def __iter__(self) -> Iterator[str]:
        return (code for code, entry in self.table.items() if self.which(entry))

    def __len__(self) -> int:
        return sum(1 for _ in self)


class LiveList(Sequence):
    """The result of `read`, evaluated on each access: a list of words that follows the table."""

    def __init__(self, read: Callable[[], Sequence[Any]]):
        self.read = read

    def __getitem__(self, index):
        return self.read()[index]

    def __len__(self) -> int:
        return len(self.read())
