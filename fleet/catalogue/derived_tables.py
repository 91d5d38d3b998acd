"""Views of a table that are read again whenever they are asked for, so that they follow an entry added later."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any


class Live(Mapping):
    """What `read` returns of each entry of a table that `which` holds for, by code."""

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
    """What `read` returns, read whenever it is asked for: a list of words that follows the table."""

    def __init__(self, read: Callable[[], Sequence[Any]]):
        self.read = read

    def __getitem__(self, index):
        return self.read()[index]

    def __len__(self) -> int:
        return len(self.read())
